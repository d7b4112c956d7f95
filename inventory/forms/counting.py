"""The sheet of a stock count: which lots, and one number for each."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from inventory.core.counting import TOO_MUCH_FOR_A_SCALE, ask_difference, is_within_weighing
from inventory.models import CountLine, Lot, Material, Studio
from inventory.posting.counting import LotFound, Round
from inventory.queries.counting import places_kept_in
from studio.kit.fields import QuantityField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.measures import stock_measure
from studio.kit.reporting import ReportForm

from .stock import NoteLine, ReceivedDayField

_LOT, _WHY = "lot-", "why-"


class SheetChoiceForm(ReportForm):
    """Which lots are counted, and whether what the book has is hidden."""

    kept_in = forms.ChoiceField(label="Kept in", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "all"), *Material.Kind.choices])
    blind = forms.BooleanField(label="Without what the book has", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A list, for choices that are found by a function are looked up each time somebody goes through them.
        places: Any = self.fields["kept_in"]
        places.choices = [("", "anywhere"), *((place, place) for place in places_kept_in())]


class CountSheetForm(OnceMixin, StudioForm):
    """A number for each lot; one that is left empty was not counted. Where it differs, the sheet asks why."""

    marks_optional = False

    day = ReceivedDayField("Counted on")
    note = NoteLine()

    def __init__(self, lots: Sequence[Lot], studio: Studio, data: Any = None, is_blind: bool = False) -> None:
        super().__init__(data)
        self.lots, self.studio, self.is_blind = lots, studio, is_blind
        for lot in lots:
            self.fields[f"{_LOT}{lot.pk}"] = QuantityField(
                lot.material.unit, label=f"Lot {lot.pk}", required=False, minimum=0
            )
            self.fields[f"{_WHY}{lot.pk}"] = forms.ChoiceField(
                label=f"Why lot {lot.pk} differs",
                required=False,
                choices=[("", "Choose"), *CountLine.Reason.choices],
            )
        self.order_fields([*(name for lot in lots for name in (f"{_LOT}{lot.pk}", f"{_WHY}{lot.pk}"))])

    @staticmethod
    def keys_in(data: Any) -> list[int]:
        """The lots that something was sent for."""
        names = [name.removeprefix(_LOT) for name in data if name.startswith(_LOT)]
        return [int(name) for name in names if name.isascii() and name.isdigit() and len(name) < 10]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for lot in self.lots:
            counted, held, unit = cleaned.get(f"{_LOT}{lot.pk}"), lot.holder.quantity, lot.material.unit
            if counted is None or is_within_weighing(counted - held, unit, self.studio.scale_division_mg):
                continue
            why = cleaned.get(f"{_WHY}{lot.pk}")
            if not why:
                self.add_error(f"{_LOT}{lot.pk}", ask_difference(held, counted, unit, self.is_blind))
            elif why == CountLine.Reason.SCALE:
                self.add_error(f"{_WHY}{lot.pk}", TOO_MUCH_FOR_A_SCALE)
        if not self.errors and not self.found():
            self.add_error(None, "Write what is there of at least one lot.")
        return cleaned

    def lines(self) -> list[tuple[Lot, str, BoundField, BoundField, bool]]:
        """Each lot with what the book has of it, the field for what is there and the one for why it differs.

        The last says whether that is asked.
        """
        rows = []
        for lot in self.lots:
            number, why = self[f"{_LOT}{lot.pk}"], self[f"{_WHY}{lot.pk}"]
            book = stock_measure(lot.material.unit).print_in_column(lot.holder.quantity)
            rows.append((lot, book, number, why, bool(number.errors or why.errors or why.value())))
        return rows

    def found(self) -> list[LotFound]:
        cleaned = self.cleaned_data
        return [
            LotFound(lot, cleaned[f"{_LOT}{lot.pk}"], cleaned.get(f"{_WHY}{lot.pk}", ""))
            for lot in self.lots
            if cleaned.get(f"{_LOT}{lot.pk}") is not None
        ]

    def round(self, kept_in: str, is_blind: bool) -> Round:
        return Round(self.cleaned_data["day"], kept_in, is_blind, self.cleaned_data["note"])
