"""Form fields that take what is said at the bench and give whole small units."""

import unicodedata
from datetime import date
from functools import partial
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from studio.kit.measures import MEASURES, PRICES, stock_measure
from studio.kit.measuring import Measure
from studio.kit.money import Price
from studio.kit.numerals import TEXT_MAX, Unreadable
from studio.kit.printing import SPACE, print_date

LINE_MAX = 120
NOTE_MAX = 2_000
EARLIEST_DAY, LATEST_DAY = date(2000, 1, 1), date(2100, 12, 31)
USE_BY_YEARS = 30
KEY_DIGITS = 18  # of the longest whole numbers that any database surely holds

# Hidden turns of direction, and what stands where bytes came that are no letters.
_REFUSED_LETTERS = set("\ufffd\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def find_typed(kind: str) -> Measure | Price | None:
    """What a person may type by this name: a measure with an example, or "price-g". None for anything else."""
    measure = MEASURES.get(kind)
    return measure if measure is not None and measure.example else PRICES.get(kind)


def understand(kind: str, text: str, **bounds: int) -> tuple[bool, str]:
    """What a field of `kind` makes of `text`: (True, what it understood) or (False, how to mend it).

    `bounds` are those of `read`. Nothing typed is nothing understood; an unknown kind is a refusal,
    since both may come from an address that a person wrote.
    """
    measure = find_typed(kind)
    if measure is None:
        return False, "This field cannot be read ahead. Write it and save."
    if not text.strip():
        return True, ""
    try:
        value: Any = measure.read(text, **bounds)
    except Unreadable as refusal:
        return False, str(refusal)
    return True, measure.tell(value)


class ReadField(forms.Field):
    """A figure typed as text; cleans to the whole small unit of a measure or to None when left empty.

    `kind` is the measure's name, or "price-g" for a price. `minimum` and `maximum` are in the small unit and default
    to the measure's own. `shows_unit` puts the unit of a bare number beside it: sizes always have it.
    """

    kind = ""
    inputmode = ""
    widget = forms.TextInput

    def __init__(
        self,
        kind: str = "",
        *,
        minimum: int | None = None,
        maximum: int | None = None,
        shows_unit: bool = False,
        **kwargs: Any,
    ) -> None:
        self.kind = kind or self.kind
        self.shows_unit = shows_unit or self.kind == "length"
        given = {"minimum": minimum, "maximum": maximum}
        self.bounds: dict[str, Any] = {name: bound for name, bound in given.items() if bound is not None}
        super().__init__(**kwargs)
        if "required" not in (kwargs.get("error_messages") or {}):
            self.error_messages["required"] = f"Write {self.measure.asked or self.measure.example}."

    @property
    def measure(self) -> Any:
        """What the figure is of; it may change with `kind`."""
        return find_typed(self.kind)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        if widget.is_hidden:
            return {}
        return {
            "inputmode": self.inputmode or self.measure.inputmode,
            "autocomplete": "off",
            "class": "number",
            "maxlength": str(TEXT_MAX),
        }

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str):
            if not value.strip():
                return None
            try:
                return self.measure.read(value, **self.bounds)
            except Unreadable as refusal:
                raise ValidationError(str(refusal), code="unreadable") from refusal
        return value

    def prepare_value(self, value: Any) -> Any:
        """A stored figure is shown as a person would type it; typed text stays as typed."""
        return value if value is None or isinstance(value, str) else self.measure.retype(value)

    def tell(self, value: Any) -> str:
        """What was understood, with its unit; nothing for None or for text not yet read."""
        return "" if value is None or isinstance(value, str) else self.measure.tell(value)


MassField = partial(ReadField, "mass")
CountField = partial(ReadField, "items")
MoneyField = partial(ReadField, "money")
PercentField = partial(ReadField, "percent")
LengthField = partial(ReadField, "length")
MinutesField = partial(ReadField, "minutes")
SecondsField = partial(ReadField, "seconds")
EnergyField = partial(ReadField, "energy")
CelsiusField = partial(ReadField, "celsius")
VacuumField = partial(ReadField, "vacuum")
HeatingField = partial(ReadField, "heating")
CoolingField = partial(ReadField, "cooling")
DensityField = partial(ReadField, "density")
FinenessField = partial(ReadField, "fineness")
MeltsField = partial(ReadField, "melts")


#: The highest number that a form asks the database for.
NUMBER_MAX = 2_147_483_647


class NumberField(forms.IntegerField):
    """A plain whole number from one to another, typed on a keyboard of digits."""

    def __init__(self, label: str | None, least: int, most: int, help_text: str = "", **more: Any) -> None:
        widget = forms.NumberInput(attrs={"inputmode": "numeric"})
        super().__init__(
            label=label, min_value=least, max_value=most, help_text=help_text, widget=widget, **more
        )


class PriceField(ReadField):
    """(millionths of the currency, unit): a price per g, kg, ozt, dwt or lb; a bare number is per `default_unit`."""

    def __init__(self, *, default_unit: str = "g", **kwargs: Any) -> None:
        super().__init__(f"price-{default_unit}", **kwargs)


class QuantityField(ReadField):
    """A stock quantity of a material whose `unit` is "mass", "volume" or "items", in that unit's small unit."""

    inputmode = "decimal"

    def __init__(self, unit: str, **kwargs: Any) -> None:
        super().__init__(stock_measure(unit).name, **kwargs)


class DayField(forms.DateField):
    """A day from 2000 up to `latest()`; takes 2026-11-25 and 25/11/2026."""

    default_error_messages = {
        "required": "Write a day such as 25/11/2026.",
        "invalid": "This day cannot be read. Write it as 25/11/2026 or 2026-11-25.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        super().__init__(input_formats=["%Y-%m-%d", "%d/%m/%Y"], **kwargs)

    def latest(self) -> date:
        return LATEST_DAY

    def too_late(self, latest: date) -> str:
        return f"This day is too far ahead. Write a day up to {_tell(latest)}."

    def prepare_value(self, value: Any) -> Any:
        # A date input shows nothing but ISO, and what was typed must stay to be seen.
        try:
            return super().prepare_value(self.to_python(value))
        except ValidationError:
            return value

    def validate(self, value: date | None) -> None:
        super().validate(value)
        if value is None:
            return
        if value < EARLIEST_DAY:
            raise ValidationError(f"Write a day from {_tell(EARLIEST_DAY)} on.", code="too_early")
        if value > self.latest():
            raise ValidationError(self.too_late(self.latest()), code="too_late")


class PastDayField(DayField):
    """A day on which something happened: up to today in the studio's zone."""

    def latest(self) -> date:
        return timezone.localdate()

    def too_late(self, latest: date) -> str:
        return f"That day has not come yet. Write a day up to today, {_tell(latest)}."


class AheadDayField(DayField):
    """A day up to so many `years` ahead."""

    years = 1

    def latest(self) -> date:
        today = timezone.localdate()
        # The day is capped, for 29 February does not come every year.
        return today.replace(year=today.year + self.years, day=min(today.day, 28))


class UseByField(AheadDayField):
    """The last day on which a lot may be used: up to thirty years ahead."""

    years = USE_BY_YEARS

    def too_late(self, latest: date) -> str:
        return f"That is more than {USE_BY_YEARS} years ahead. Write a day up to {_tell(latest)}."


class RecordsField(forms.ModelMultipleChoiceField):  # noqa: TID251 - the one place where it is mended
    """Some of the records of a queryset, by their keys."""

    def clean(self, value: Any) -> Any:
        # A key that it cannot hold is not looked up by the database but refused with an error of its own.
        if isinstance(value, list | tuple) and any(len(str(key)) > KEY_DIGITS for key in value):
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        return super().clean(value)


class _TextField(forms.CharField):
    longest = LINE_MAX
    default_error_messages = {
        "required": "Write a few words here.",
        "max_length": "This is too long. Write at most %(limit_value)d characters.",
    }

    def __init__(self, *, max_length: int | None = None, **kwargs: Any) -> None:
        super().__init__(max_length=max_length or self.longest, **kwargs)
        self.validators.insert(0, refuse_unprintable)


class LineField(_TextField):
    """One line of text; runs of blanks become one space."""

    def to_python(self, value: Any) -> str | None:
        line = super().to_python(value)
        return " ".join(line.split()) if line else line


class NoteField(_TextField):
    """Some lines of text."""

    widget = forms.Textarea
    longest = NOTE_MAX

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "rows": "3"}

    def to_python(self, value: Any) -> str | None:
        note = super().to_python(value)
        # Browsers send two characters for a line's end and count one.
        return note.replace("\r\n", "\n").replace("\r", "\n") if note else note


def refuse_unprintable(text: str) -> None:
    """Raise ValidationError for control characters other than line ends and tabs, and for letters to refuse."""
    if any(
        (unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\r\t")
        or letter in _REFUSED_LETTERS
        for letter in text
    ):
        raise ValidationError("Take out the characters that cannot be printed.", code="unprintable")


def _tell(day: date) -> str:
    return print_date(day).replace(SPACE, " ")
