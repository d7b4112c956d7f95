"""The list of firings."""

from functools import cached_property

from django_tables2 import A

from inventory.models import Firing
from inventory.queries.firing import KilnRecords, measured_energy
from studio.kit.columns import CountColumn, DayColumn, MinutesColumn, TextColumn, WorkedColumn
from studio.kit.tables import BaseTable


def _energy_wh(firing: Firing, table: "FiringTable") -> int | None:
    energy = measured_energy(firing) or table.records.energy_of(firing)
    return None if energy.problem else energy.energy_wh


class FiringTable(BaseTable):
    """Rows come from `firings`."""

    caption = "Firings"

    day = DayColumn(linkify=("inventory:firing-detail", [A("pk")]))
    kiln = TextColumn(wide=True)
    minutes = MinutesColumn("In the kiln", wide=True)
    energy = WorkedColumn("Energy", _energy_wh, kind="energy", accessor="pk", orderable=False)
    cast_count = CountColumn("Casts", wide=True)
    note = TextColumn(wide=True)

    class Meta:
        empty_text = "No firing yet. Write one down after the burnout: which kiln, how long, and the meter."

    @cached_property
    def records(self) -> KilnRecords:
        """Every firing there is, read once for all rows that have no meter: what is measured puts these right."""
        return KilnRecords()
