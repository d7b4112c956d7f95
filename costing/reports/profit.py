"""What was left of sales after the real cost of what was sold: by piece, design, channel, month or cast."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django import forms

from costing.core.profit import Deed, add_up
from costing.forms.reports import PeriodForm
from costing.queries.profit import Sold, read_profit
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import Column, Document, Filled, Heading, Prose, WorkingBlock, fill_table
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cost_sheet import PIECES_SHOWN, round_column, say_period, say_rounding

_BY: Mapping[str, tuple[str, Callable[[Sold], str]]] = {
    "design": ("Design", lambda sold: sold.design),
    "piece": ("Piece", lambda sold: f"{sold.piece.name} ({sold.piece.cast.number}.{sold.piece.number})"),
    "channel": ("Channel", lambda sold: sold.channel),
    "month": ("Month", lambda sold: f"{sold.day:%Y-%m}"),
    "cast": ("Cast", lambda sold: str(sold.piece.cast.number)),
}


class ProfitForm(PeriodForm):
    """A time, and what the sales in it are added up by."""

    by = forms.ChoiceField(
        label="Added up by", required=False, choices=[(key, word.lower()) for key, (word, _) in _BY.items()]
    )

    def clean_by(self) -> str:
        return self.cleaned_data["by"] or "design"


@report(
    "profit",
    "Profit on what was sold",
    "Sales less tax, fees and the real cost of what was sold: by design, piece, channel, month or cast.",
    ProfitForm,
    place=3,
)
def build_profit(params: Mapping[str, Any]) -> Document:
    word, name_of = _BY[params["by"]]
    sold = read_profit(params["from"], params["to"])
    groups: dict[str, list[Deed]] = {}
    for one in sold:
        groups.setdefault(name_of(one), []).append(one.deed)
    rows = {name: add_up(deeds) for name, deeds in groups.items()}
    names = (
        sorted(rows) if params["by"] == "month" else sorted(rows, key=lambda name: -rows[name].profit_micro)
    )
    total = add_up(rows.values())
    blocks: list[Any] = [Prose(_say(total))]
    if rows:
        blocks += [_table(word, names, [rows[name] for name in names], total), *_workings(rows, names, total)]
    else:
        blocks = [Prose("Nothing was sold in this time with its price written down.")]
    return make_document(
        current_studio(),
        "Profit on what was sold",
        blocks,
        f"profit {params['from']} {params['to']}",
        f"by {word.lower()}",
        say_period(params["from"], params["to"]),
    )


def _workings(rows: Mapping[str, Deed], names: Sequence[str], total: Deed) -> list[Any]:
    blocks: list[Any] = [Heading("How it came about"), WorkingBlock(total.work("Profit together"))]
    if len(names) > 1:
        blocks += [WorkingBlock(rows[name].work(name)) for name in names[:PIECES_SHOWN]]
    if len(names) > PIECES_SHOWN:
        blocks.append(
            Prose(f"The first {PIECES_SHOWN} of {len(names)} are worked out here: choose a shorter time.")
        )
    return blocks


def _say(total: Deed) -> str:
    left, over, profit = (
        print_money(one) for one in (total.left_micro, total.over_book_micro, total.profit_micro)
    )
    return (
        f"Paid {print_money(total.paid_micro)}, less tax of {print_money(total.tax_micro)} and fees of "
        f"{print_money(total.fees_micro)}: {left} is left. Less what the book had in these pieces, "
        f"{print_money(total.book_micro)}: {over}. Less the rest of what they cost by your cost rules (powder, kiln, "
        f"time, losses), {print_money(total.other_micro)}: {profit}. What came back is taken off on its day."
    )


def _table(word: str, names: list[str], rows: list[Deed], total: Deed) -> Any:
    unit = current_studio().penny_micro

    def money(key: str, label: str, name: str, on_phone: bool | None = None) -> Filled:
        column = Column(key, label, "money", on_phone=on_phone)
        return round_column(column, [getattr(row, f"{name}_micro") for row in rows], unit)

    def rate(key: str, label: str, name: str) -> Filled:
        """What is divided does not add up: the total is that of all together."""
        amounts = [getattr(row, f"{name}_micro") for row in (*rows, total)]
        cells = [None if one is None else round_to_unit(one, unit) for one in amounts]
        return Filled(Column(key, label, "money"), cells[:-1], cells[-1])

    filled = [
        Filled(Column("what", word), names, "Together"),
        Filled(Column("pieces", "Pieces", "count"), [row.pieces for row in rows], total.pieces),
        money("paid", "Paid", "paid", True),
        money("tax", "Tax", "tax"),
        money("fees", "Fees", "fees"),
        money("book", "Metal, by the book", "book"),
        money("other", "Other cost", "other"),
        money("profit", "Profit", "profit", True),
        rate("hour", "For an hour at the bench", "per_hour"),
        rate("flask", "For a flask", "per_flask"),
    ]
    return fill_table(f"By {word.lower()}", filled, say_rounding(*filled[2:8]))
