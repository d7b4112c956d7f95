"""What was left of sales after the real cost of what was sold: by piece, design, channel, month or cast."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from costing.core.next_cast import WEEKS, Prospect, rank_prospects, say_next_cast
from costing.core.profit import Deed, add_up
from costing.forms.reports import PeriodForm
from costing.queries.policy import all_policies, policy_on
from costing.queries.profit import Sold, count_coming, count_left, read_profit
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Column,
    Document,
    Filled,
    Heading,
    Prose,
    WorkingBlock,
    fill_table,
    summed_apart,
)
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cost_sheet import PIECES_SHOWN, name_rules, say_period

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
    today = timezone.localdate()
    since = today - timedelta(weeks=WEEKS)
    # What went lately is read with it, so that nothing is costed twice.
    every = read_profit(min(params["from"], since), max(params["to"], today))
    sold = [one for one in every if params["from"] <= one.day <= params["to"]]
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
        blocks.append(_table(word, names, [rows[name] for name in names], total))
        if params["by"] == "design":
            blocks += _next_cast(rows, _count_lately(every, since))
        blocks += _workings(rows, names, total)
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


def _count_lately(sold: Iterable[Sold], since: date) -> Mapping[str, int]:
    """How many of each design went after a day, less what came back."""
    counts: dict[str, int] = {}
    for one in sold:
        if one.day > since:
            counts[one.design] = counts.get(one.design, 0) + one.deed.pieces
    return counts


def _next_cast(rows: Mapping[str, Deed], lately: Mapping[str, int]) -> list[Any]:
    """The designs of the table by what an hour leaves, what went lately and what is left; said in one sentence."""
    here, coming = count_left(), count_coming()
    ranked = rank_prospects(
        Prospect(
            name=name,
            profit_micro=deed.profit_micro,
            hour_micro=deed.per_hour_micro,
            flask_micro=deed.per_flask_micro,
            sold=lately.get(name, 0),
            here=here[name],
            coming=coming[name],
        )
        for name, deed in rows.items()
    )
    unit = current_studio().penny_micro

    def money(key: str, label: str, amounts: Sequence[int | None]) -> Filled:
        cells = [None if one is None else round_to_unit(one, unit) for one in amounts]
        return Filled(Column(key, label, "money"), cells)

    filled = [
        Filled(Column("what", "Design"), [one.name for one in ranked]),
        money("hour", "For an hour at the bench", [one.hour_micro for one in ranked]),
        money("flask", "For a flask", [one.flask_micro for one in ranked]),
        Filled(
            Column("lately", f"Sold in {WEEKS} weeks", "count", on_phone=True), [one.sold for one in ranked]
        ),
        Filled(Column("here", "Left", "count", on_phone=True), [one.here for one in ranked]),
        Filled(Column("coming", "Planned", "count"), [one.coming for one in ranked]),
    ]
    note = (
        "By what an hour at the bench left of what was sold in this time, without time by what a flask did. What is "
        "left and planned is of today, and so are the weeks."
    )
    return [
        Heading("What to cast next"),
        Prose(say_next_cast(ranked)),
        fill_table("Designs by what an hour leaves", filled, note),
    ]


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
    rules = name_rules(policy_on(timezone.localdate(), all_policies()))
    return (
        f"Paid {print_money(total.paid_micro)}, less tax of {print_money(total.tax_micro)} and fees of "
        f"{print_money(total.fees_micro)}: {left} is left. Less what the book had in these pieces, "
        f"{print_money(total.book_micro)}: {over}. Less the rest of what they cost by {rules} (powder, kiln, time, "
        f"losses), {print_money(total.other_micro)}: {profit}. What came back is taken off on its day."
    )


def _table(word: str, names: list[str], rows: list[Deed], total: Deed) -> Any:
    unit = current_studio().penny_micro

    def money(key: str, label: str, name: str, on_phone: bool | None = None) -> Filled:
        column = Column(key, label, "money", on_phone=on_phone)
        return summed_apart(column, [getattr(row, f"{name}_micro") for row in rows], unit)

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
    return fill_table(f"By {word.lower()}", filled)
