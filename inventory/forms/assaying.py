"""The forms by which a fineness is said: measured, guessed between two ends, or weighed in air and in water."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.core.weighing_in_water import COLDEST_C, WARMEST_C, InWater, weigh_in_water
from inventory.models import Lot
from inventory.posting.assaying import Assay
from studio.kit.fields import CelsiusField, LineField, MassField, ReadField
from studio.kit.forms import OnceMixin, StudioForm
from studio.kit.measures import PURITY
from studio.kit.numerals import Unreadable
from studio.kit.printing import print_fineness
from studio.kit.units import PPM_PER_MILLE

from .work_day import WorkDayField

MEASURED_LABEL = "Measured fineness"
ENDS_LABELS = ("From", "To")
ASSAY_LABELS = ("Assayed by", "Number of the paper")
_SEEN_MAX = 40
#: Up to this it is a share of 1 that was written, not parts of 1000; 0 is metal without any.
_SHARE_OF_ONE_PPM = PPM_PER_MILLE
SHARE_OF_ONE = "Write parts of 1000: for 0.925 write 925."
#: How far a fineness may be from what is proved of a lot before it is asked about.
_FAR_PPM = 50_000
_ENDS = re.compile(r"(.+?)\s*(?:\bto\b|-|–|—|…|\.\.+)\s*(.+)")


class PerMilleField(ReadField):
    """Parts per thousand, with tenths; cleans to parts per million."""

    kind = "purity"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(help_text=kwargs.pop("help_text", "Parts of 1000, such as 879.5."), **kwargs)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value and value <= _SHARE_OF_ONE_PPM:
            raise ValidationError(SHARE_OF_ONE)


class GuessField(LineField):
    """ "800 to 925": the lower and the higher end of a fineness that nobody knows, in parts per million."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Fineness, if you do not know it")
        kwargs.setdefault(
            "help_text", "From what to what of 1000, such as 800 to 925. It is kept as mixed metal."
        )
        super().__init__(required=False, max_length=40, **kwargs)

    def to_python(self, value: Any) -> Any:
        line = super().to_python(value)
        if not line:
            return None
        ends = _ENDS.fullmatch(line)
        if ends is None:
            raise ValidationError("Write from what to what of 1000 it may be, such as 800 to 925.")
        try:
            low_ppm, high_ppm = (PURITY.read(end) for end in ends.groups())
        except Unreadable as refusal:
            raise ValidationError(str(refusal)) from refusal
        if low_ppm > high_ppm:
            raise ValidationError("Write the lower figure first, such as 800 to 925.")
        if 0 < high_ppm <= _SHARE_OF_ONE_PPM:
            raise ValidationError(SHARE_OF_ONE)
        return low_ppm, high_ppm

    def validate(self, value: Any) -> None:
        """Both ends were judged as they were read."""

    def run_validators(self, value: Any) -> None:
        """As above: the length of what was typed is judged by the browser and by how it is read."""

    def prepare_value(self, value: Any) -> Any:
        return print_ends(*value) if isinstance(value, tuple) else value


def print_ends(low_ppm: int, high_ppm: int) -> str:
    return f"{PURITY.print(low_ppm)} to {PURITY.print(high_ppm)}"


class AssayForm(OnceMixin, StudioForm):
    """What a lot's fineness is now said to be. `seen` is the mark of the changes that were agreed to."""

    measured = PerMilleField(label=MEASURED_LABEL, required=False)
    by_whom = LineField(label=ASSAY_LABELS[0], required=False, max_length=80)
    paper = LineField(label=ASSAY_LABELS[1], required=False, max_length=60)
    guess = GuessField(label="Or a guess", help_text="From what to what of 1000, such as 800 to 925.")
    goes_on = forms.BooleanField(
        label="Carry it on through what was made of it",
        required=False,
        help_text="Pieces, reclaim and what is in a crucible follow, by how much of this lot is in them.",
    )
    day = WorkDayField(label="Day")
    note = LineField(label="Note", required=False, max_length=500)
    air = MassField(label="Weight in air", required=False, minimum=1)
    water = MassField(label="Weight in water", required=False)
    water_c = CelsiusField(label="Temperature of the water", required=False)
    seen = forms.CharField(required=False, max_length=_SEEN_MAX, widget=forms.HiddenInput)

    IN_WATER = ("air", "water", "water_c")

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        self.lot = lot
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        measured, guess = cleaned.get("measured"), cleaned.get("guess")
        if not {"measured", "guess"} & set(self.errors):
            if measured is None and guess is None:
                self.add_error("measured", "Write the fineness that was measured, or a guess below.")
            elif measured is not None and guess is not None:
                self.add_error("guess", "Write what was measured or a guess, not both.")
        return cleaned

    def doubts(self) -> dict[str, str]:
        """A fineness that what is known of the lot does not lead one to expect."""
        name = "measured" if self.cleaned_data.get("measured") is not None else "guess"
        said = self.assay(self.lot)
        expected, words = self._expected()
        if expected is None or (said.low_ppm <= expected[1] and said.high_ppm >= expected[0]):
            return {}
        found = PURITY.print(said.low_ppm) if name == "measured" else print_ends(said.low_ppm, said.high_ppm)
        return {name: f"{words}, and this is {found}. Is it right?"}

    def _expected(self) -> tuple[tuple[int, int] | None, str]:
        lot, held = self.lot, self.lot.holder
        if lot.fineness_is_guess and lot.fine_low_ppm is not None and lot.fine_high_ppm is not None:
            ends = lot.fine_low_ppm, lot.fine_high_ppm
            return ends, f"The guess of this lot is {print_ends(*ends)} of 1000"
        if not held.quantity:
            return None, ""
        ppm = held.fine_ug * PPM_PER_MILLE // held.quantity
        has = print_fineness(held.fine_ug, held.quantity)
        return (ppm - _FAR_PPM, ppm + _FAR_PPM), f"The book has {has} in it"

    def assay(self, lot: Lot) -> Assay:
        found = self.cleaned_data
        low_ppm, high_ppm = found["guess"] or (found["measured"], found["measured"])
        return Assay(
            lot,
            low_ppm,
            high_ppm,
            is_guess=found["guess"] is not None,
            by_whom=found["by_whom"] or "",
            paper=found["paper"] or "",
            goes_on=found["goes_on"],
        )

    def work_out(self, division_mg: int) -> InWater | None:
        """What the two weighings tell; None, with a sentence beside a field, where they tell nothing."""
        air, water, celsius = (self.cleaned_data.get(name) for name in self.IN_WATER)
        if air is None or water is None or celsius is None:
            for name in self.IN_WATER:
                if self.cleaned_data.get(name) is None and name not in self.errors:
                    self.add_error(name, "This is needed to work out the density.")
            return None
        if water >= air:
            self.add_error("water", "In water it weighs less than in air: look at both weights again.")
        if not COLDEST_C <= celsius <= WARMEST_C:
            self.add_error("water_c", f"Use water of {COLDEST_C} to {WARMEST_C} °C.")
        if any(name in self.errors for name in self.IN_WATER):
            return None
        return weigh_in_water(air, water, celsius, division_mg)
