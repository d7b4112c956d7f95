"""What the papers of a batch begin with: its number."""

from typing import Any

from inventory.queries.refining import find_batch, latest_batch
from studio.kit.fields import NUMBER_MAX, NumberField
from studio.kit.reporting import RecordReportForm


class BatchForm(RecordReportForm):
    batch = NumberField("Batch", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False)

    record = "batch"
    none_yet = "Nothing was sent to a refiner yet."
    unknown = "There is no batch {}."

    def find(self, number: int | None) -> Any:
        return latest_batch() if number is None else find_batch(number)
