"""The list of firings."""

from functools import cached_property
from typing import Any

from django_tables2 import A

from inventory.core.energy import Energy
from inventory.models import Firing
from inventory.queries.firing import KilnRecords, measured_energy
from studio.kit import printing
from studio.kit.columns import CountColumn, DayColumn, FigureColumn, MinutesColumn, TextColumn
from studio.kit.tables import BaseTable


class FiringEnergyColumn(FigureColumn):
    """Worked out from the record, for two ways lead to it."""

    kind = "energy"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(accessor="pk", orderable=False, **kwargs)

    def render(self, value: int, record: Firing, table: "FiringTable | None" = None) -> str:
        energy = _energy_of(record, table)
        return printing.NOTHING if energy.problem else self.print_figure(energy.energy_wh, record)

    def value(self, value: int, record: Firing, table: "FiringTable | None" = None) -> Any:
        energy = _energy_of(record, table)
        return None if energy.problem else super().value(energy.energy_wh, record)


def _energy_of(firing: Firing, table: "FiringTable | None") -> Energy:
    measured = measured_energy(firing)
    if measured is not None:
        return measured
    records = KilnRecords([firing.kiln_id]) if table is None else table.records
    return records.energy_of(firing)


class FiringTable(BaseTable):
    """Rows come from `firings`."""

    caption = "Firings"

    day = DayColumn(linkify=("inventory:firing-detail", [A("pk")]))
    kiln = TextColumn(wide=True)
    minutes = MinutesColumn(verbose_name="In the kiln", wide=True)
    energy = FiringEnergyColumn(verbose_name="Energy")
    cast_count = CountColumn(verbose_name="Casts", wide=True)
    note = TextColumn(wide=True)

    class Meta:
        model = Firing
        fields = ("day", "kiln", "minutes", "energy", "cast_count", "note")
        empty_text = "No firing yet. Write one down after the burnout: which kiln, how long, and the meter."

    @cached_property
    def records(self) -> KilnRecords:
        """Every firing there is, read once for all rows that have no meter: what is measured puts these right."""
        return KilnRecords()
