"""What the papers of a batch begin with: its number."""

from typing import Any

from django.core.exceptions import ValidationError

from inventory.queries.refining import find_batch, latest_batch
from studio.kit.fields import NUMBER_MAX, NumberField
from studio.kit.reporting import ReportForm


class BatchForm(ReportForm):
    batch = NumberField("Batch", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False)

    def clean_batch(self) -> Any:
        number = self.cleaned_data["batch"]
        batch = latest_batch() if number is None else find_batch(number)
        if batch is None:
            nothing = "Nothing was sent to a refiner yet."
            raise ValidationError(nothing if number is None else f"There is no batch {number}.")
        return batch

    def settled(self) -> dict[str, str]:
        return {"batch": str(self.cleaned_data["batch"].pk)}
