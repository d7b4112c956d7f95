"""What is sold, goes out, comes back and is paid back: a tick and a price for each piece, and the fees once."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Q
from django.forms.boundfield import BoundField
from django.utils import timezone

from costing.core.sale import SaleTerms
from costing.models import Channel, Outing, Refund, SaleLine, SalesPractice
from costing.posting.sales import Back, Sold
from inventory.models import Piece
from inventory.queries.setup import in_use
from studio.kit.fields import LineField, MoneyField, NoteField, NumberField, PastDayField
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.reporting import ReportForm

PRICE_MAX_MICRO = 10**13
MOST_PIECES = 100
_TAKE, _PRICE = "take_", "price_"
_NUMBERS = re.compile(r"(\d{1,9})\.(\d{1,4})(?:-(?:\1\.)?(\d{1,4}))?")


def _money(label: str, help_text: str = "", **more: Any) -> Any:
    return MoneyField(label=label, maximum=PRICE_MAX_MICRO, required=False, help_text=help_text, **more)


@dataclass(frozen=True, slots=True)
class Numbers:
    """The pieces of a cast from one number to another; `text` as it was written."""

    text: str
    cast: int
    first: int
    last: int

    def names(self, piece: Piece) -> bool:
        return piece.cast.number == self.cast and self.first <= piece.number <= self.last


def read_numbers(text: str) -> list[Numbers]:
    """The pieces that "40.1-6, 41.2" names, by cast and number; none where it is no list of numbers."""
    found = []
    for part in filter(None, re.split(r"[,;\s]+", text.strip())):
        match = _NUMBERS.fullmatch(part)
        if match is None:
            return []
        found.append(Numbers(part, int(match[1]), int(match[2]), int(match[3] or match[2])))
    return found


def of_numbers(numbers: Sequence[Numbers]) -> Q:
    """Those pieces, as a condition."""
    found = Q()
    for one in numbers:
        found |= Q(cast__number=one.cast, number__gte=one.first, number__lte=one.last)
    return found


class ChooseForm(ReportForm):
    """Which pieces a page shows: by their numbers, or by words of their names."""

    q = LineField(
        label="Which pieces",
        max_length=200,
        required=False,
        help_text="Numbers such as 40.1-6, 41.2, or a name.",
    )


class PiecesForm(OnceMixin, StudioForm):
    """A tick and a price for each piece; a price that was changed counts as a tick."""

    marks_optional = False

    def __init__(self, data: Any, pieces: Sequence[Piece], asked: Mapping[int, int | None]) -> None:
        super().__init__(data)
        self.pieces, self.offered = {piece.pk: piece for piece in pieces}, asked
        for key, piece in self.pieces.items():
            self.fields[f"{_TAKE}{key}"] = forms.BooleanField(label=piece.name, required=False)
            price = self.fields[f"{_PRICE}{key}"] = _money(f"Price of {piece.name}", initial=asked.get(key))
            # What was asked, and not what a refused page holds, is what a price is a change of.
            price.widget.attrs["data-offered"] = price.prepare_value(asked.get(key)) or ""

    @staticmethod
    def keys_in(data: Any) -> list[int]:
        """The pieces that a page which was sent in had a price field for."""
        names = [name.removeprefix(_PRICE) for name in data if name.startswith(_PRICE)]
        return [int(name) for name in names if name.isascii() and name.isdigit() and len(name) < 19][
            :MOST_PIECES
        ]

    def rows(self) -> list[tuple[Piece, BoundField, BoundField]]:
        return [(piece, self[f"{_TAKE}{key}"], self[f"{_PRICE}{key}"]) for key, piece in self.pieces.items()]

    def is_taken(self, key: int) -> bool:
        cleaned, price = self.cleaned_data, self.cleaned_data.get(f"{_PRICE}{key}")
        return bool(cleaned.get(f"{_TAKE}{key}")) or (price is not None and price != self.offered.get(key))

    def taken(self) -> list[tuple[Piece, int | None]]:
        return [
            (piece, self.cleaned_data.get(f"{_PRICE}{key}"))
            for key, piece in self.pieces.items()
            if self.is_taken(key)
        ]


class SellForm(PiecesForm):
    """What was sold. Fees that are left empty are those of the channel."""

    buyer = LineField(label="Buyer", max_length=120, required=False)
    discount = _money("Discount off it all")
    table_fee = _money("Fee for the table", "What the day or the table cost. All that was sold shares it.")
    card_fee = _money("Card fees in all", "As the card machine says. Left empty, by the channel's rate.")
    is_owed = forms.BooleanField(label="They took the money and owe it", required=False)
    day = PastDayField(label="Sold on", initial=timezone.localdate)
    note = LineField(label="Note", max_length=400, required=False)
    rest_back = forms.BooleanField(label="All the rest is here again", required=False)

    def __init__(
        self,
        data: Any,
        pieces: Sequence[Piece],
        asked: Mapping[int, int | None],
        outing: Outing | None = None,
    ) -> None:
        super().__init__(data, pieces, asked)
        self.outing = outing
        if outing is None:
            del self.fields["rest_back"]
            channel = forms.ModelChoiceField(in_use(Channel), label="Through", empty_label=None)
            self.fields = {"channel": channel, **self.fields}
        else:
            is_fair = outing.kind == Outing.Kind.FAIR
            first = {
                "table_fee": int(outing.channel.day_micro) or None,
                "is_owed": not is_fair,
                "rest_back": is_fair,
                "day": outing.day if is_fair else timezone.localdate(),
            }
            self.initial = {**self.initial, **first}

    @property
    def head(self) -> list[BoundField]:
        return [self[name] for name in ("channel", "day") if name in self.fields]

    @property
    def foot(self) -> list[BoundField]:
        own = ("table_fee", "card_fee", "buyer", "discount", "is_owed", "note", "rest_back")
        return [self[name] for name in own if name in self.fields]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for key in self.pieces:
            name = f"{_PRICE}{key}"
            if name not in self.errors and self.is_taken(key) and cleaned.get(name) is None:
                self.add_error(name, "Write what it went for; 0 where it was given away.")
        if not self.errors and not self.taken() and not cleaned.get("rest_back"):
            self.add_error(None, "Tick at least one piece, or write its price.")
        return cleaned

    def sold(self) -> list[Sold]:
        return [Sold(piece, price or 0, self.offered.get(piece.pk)) for piece, price in self.taken()]

    def change_terms(self, terms: SaleTerms) -> dict[str, Any]:
        """What was written down of the fees, in the words of the terms."""
        found = self.cleaned_data
        # At a fair each piece is a sale of its own to the card machine.
        card_sales = len(self.sold()) if self.outing and self.outing.kind == Outing.Kind.FAIR else 1
        return {
            "discount_micro": found["discount"] or 0,
            "day_micro": found["table_fee"] or 0,
            "card_fee_micro": found["card_fee"],
            "card_sales": card_sales,
        }


class SendOutForm(PiecesForm):
    """What goes out to be sold, where and when."""

    kind = forms.ChoiceField(
        label="To", choices=[("fair", "a fair or market"), ("gallery", "a gallery or shop")]
    )
    channel = forms.ModelChoiceField(in_use(Channel), label="Sold through", empty_label=None)
    name = LineField(label="Name", max_length=80, help_text="Such as Spring fair.")
    day = PastDayField(label="Out on", initial=timezone.localdate)
    numbers = LineField(
        label="Also these numbers", max_length=400, required=False, help_text="Such as 40.1-6, 41.2."
    )
    note = LineField(label="Note", max_length=400, required=False)

    @property
    def head(self) -> list[BoundField]:
        return [self[name] for name in ("kind", "channel", "name", "day")]

    @property
    def foot(self) -> list[BoundField]:
        return [self["numbers"], self["note"]]

    def clean_numbers(self) -> list[Numbers]:
        text = self.cleaned_data["numbers"]
        found = read_numbers(text) if text else []
        if text and not found:
            raise forms.ValidationError("Write numbers of pieces, such as 40.1-6, 41.2.")
        return found

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.taken() and not cleaned.get("numbers"):
            self.add_error(None, "Tick at least one piece, or write its number.")
        return cleaned

    def outing(self) -> Outing:
        found = self.cleaned_data
        return Outing(**{name: found[name] for name in ("kind", "channel", "name", "day", "note")})


class RefundForm(OnceMixin, StudioForm):
    """What is paid back of one piece, and whether it came back."""

    came_back = forms.BooleanField(label="The piece came back", required=False, initial=True)
    amount = _money("Paid back", "Tax and all. Left empty, nothing.")
    fees_back = _money(
        "Fees that came back to you", "What a gallery or the card machine gave back, if anything."
    )
    reason = LineField(label="Why", max_length=200, required=False)
    day = PastDayField(label="On", initial=timezone.localdate)

    def __init__(self, data: Any, line: SaleLine, before: Sequence[Refund] = ()) -> None:
        """`before` is what counts of what was paid back of it already."""
        rest = line.paid_micro - sum(one.amount_micro for one in before)
        is_here = any(one.entry_id for one in before)
        super().__init__(data, initial={"amount": rest, "came_back": not is_here})

    def back(self) -> Back:
        found = self.cleaned_data
        return Back(
            found["amount"] or 0,
            found["day"],
            found["came_back"],
            found["fees_back"] or 0,
            found["reason"] or "",
        )


class BillForm(OnceMixin, StudioForm):
    """For whom a bill is, and when it is written."""

    buyer = LineField(label="To", max_length=120)
    address = NoteField(label="Address", max_length=300, required=False)
    day = PastDayField(label="Date of the bill", initial=timezone.localdate)


class StrikeOutForm(OnceMixin, StudioForm):
    """Why a bill is struck out, and when."""

    why = LineField(label="Why", max_length=200, help_text="It stands on the bill, which keeps its number.")
    day = PastDayField(label="Struck out on", initial=timezone.localdate)


class DayButtonForm(OnceMixin, StudioForm):
    """A day and a button."""

    day = PastDayField(label="On", initial=timezone.localdate)


class SalesPracticeForm(StudioModelForm):
    owed_days = NumberField(
        "Long owed after, in days", 1, 3_650, "The first page tells of sales owed for longer."
    )
    sender = NoteField(label="Your address on bills", max_length=300, required=False)
    tax_number = LineField(label="Your tax number", max_length=40, required=False)

    class Meta:
        model = SalesPractice
        fields = ["owed_days", "tax_by_line", "sender", "tax_number"]
        labels = {"tax_by_line": "Round the tax for each piece, and not once for the bill"}
