"""What one piece cost, on what it cost or as if its metal were bought today; and the pieces of a time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from costing.core import inputs
from costing.core.metal_price import AlloyPrice
from costing.core.price import (
    Left,
    Price,
    PriceRule,
    compute_left,
    compute_price,
    replace_metal,
)
from costing.core.rollup import PrintedCost, compute_printed
from costing.core.sharing import work_piece_share
from costing.forms.reports import MetalForm
from costing.queries.costed import CostedCast, closed_cast_ids, cost_casts
from inventory.models import Piece, Studio
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.chart_pen import Picture
from studio.kit.documents import Block, Column, Document, Filled, Prose, Raw, Table, fill_table, summed
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit
from studio.kit.working import Working

from .cast_cost import rules_of_today
from .cost_sheet import (
    name_rules,
    picture_piece,
    price_columns,
    say_asked,
    say_day,
    say_period,
    say_rules,
)
from .lacks import say_lacks
from .piece_price import PiecePrices


@dataclass(frozen=True)
class PieceLine:
    """One line of the piece's cost as printed, and how it came about."""

    label: str
    amount_micro: int
    working: Working


@dataclass(frozen=True)
class Asking:
    """One price to ask, and what it leaves over the cost once tax and fees are gone."""

    label: str
    rule: PriceRule
    price: Price
    left: Left

    @property
    def asked(self) -> str:
        """The price as it is said: "112.00 retail"; "" where there is none."""
        return "" if self.price.problem else say_asked(self.price, self.rule)

    @property
    def working(self) -> Working | None:
        """How the price was reached, and what it leaves."""
        working = self.price.working
        if working is None:
            return None
        return replace(working, title=self.label, steps=working.steps + self.left.steps)


@dataclass(frozen=True)
class PieceSheet:
    """One piece of a costed cast, and all that its price follows from."""

    costed: CostedCast
    place: int
    studio: Studio
    prices: PiecePrices
    work: tuple[int, Working] | None = None

    @property
    def is_theirs(self) -> bool:
        """Whether its metal is a customer's: then it is priced as casting for others, which is `work`."""
        return self.costed.inputs.customer_metal

    @property
    def price(self) -> AlloyPrice | None:
        """What its metal costs to buy again; None when nobody wrote a price down."""
        return self.prices.price

    @property
    def piece(self) -> Piece:
        return self.costed.pieces[self.place]

    @property
    def is_good(self) -> bool:
        return self.place in self.costed.inputs.good_places

    @property
    def mass_mg(self) -> int:
        return self.costed.piece_mg[self.place]

    @property
    def cost_micro(self) -> int:
        """Exact; prices are reached from it."""
        return self.costed.cost.piece_totals_micro[self.place]

    @cached_property
    def _printed(self) -> PrintedCost:
        return compute_printed(self.costed.cost, self.studio.penny_micro)

    @property
    def printed_micro(self) -> int:
        """As it stands in the table of the cast."""
        return self._printed.piece_totals_micro[self.place]

    @cached_property
    def lines(self) -> list[PieceLine]:
        return [
            PieceLine(line.label, printed.piece_micro[self.place], work_piece_share(line, self.place))
            for line, printed in zip(self.costed.cost.lines, self._printed.lines, strict=True)
            if line.piece_micro[self.place]
        ]

    @property
    def rules_sentence(self) -> str:
        return say_rules(self.costed.policy, self.costed.cast.day)

    @property
    def picture(self) -> Picture:
        return picture_piece(self._printed, self.place)

    @cached_property
    def today(self) -> tuple[int, Working] | None:
        """Its cost with its metal at the newest price; None without one, or for a customer's metal."""
        parts = self.prices.parts
        if self.price is None or parts.today_micro is None:
            return None
        return replace_metal(
            parts.cost_micro,
            parts.metal_micro,
            self.mass_mg + self.costed.findings_of(self.place).metal_mg,
            self.costed.cost.piece_lost_mg[self.place],
            self.price.micro_per_kg,
        )

    @property
    def lacks_words(self) -> str:
        return say_lacks(self.prices.lacks)

    def say_asked(self, askings: Sequence[Asking]) -> str:
        """What is asked for it, or what to ask, with its metal as it is bought today where that is known."""
        if self.is_theirs:
            return self._say_work()
        kept = self.prices.asked
        if kept is not None:
            return f"Asked: {print_money(kept.price_micro)}{self._say_now(kept.price_micro)}."
        asked = [asking.asked for asking in askings if asking.asked]
        rules = name_rules(self.prices.book.policy)
        if not asked or self.today is None or self.price is None:
            return f"Ask {', '.join(asked)}, by {rules}." if asked else ""
        # Of each rule the second is that with today's metal.
        bought = f"with its metal at the price of {say_day(self.price.day)}"
        return f"Ask {', '.join(asked[1::2])}, by {rules} and {bought}."

    def _say_work(self) -> str:
        whose = self.costed.cast.owner
        return f"Casting it costs {whose} {print_money(self.work[0])}, before tax." if self.work else ""

    def _say_now(self, asked_micro: int) -> str:
        """What the rules say now, where that is another price than the one that is asked."""
        usual = self.prices.usual
        if usual.kept is None or usual.kept.told_micro == asked_micro:
            return ""
        return f", and {usual.way.label} says {print_money(usual.kept.told_micro)} now"

    def askings(self, rules: Sequence[PriceRule]) -> list[Asking]:
        """What to ask by each rule: on what it cost, then with metal of today."""
        bases = [("on what it cost", self.prices.parts.cost_micro)]
        if self.today is not None:
            bases.append(("with metal at today's price", self.today[0]))
        return [
            _ask(f"{rule.label}, {basis}", cost_micro, rule) for rule in rules for basis, cost_micro in bases
        ]


def _ask(label: str, cost_micro: int, rule: PriceRule) -> Asking:
    price = compute_price(cost_micro, rule)
    return Asking(label, rule, price, compute_left(price, cost_micro, rule.fees_pct100))


def table_askings(askings: Sequence[Asking], caption: str, is_part: bool = False) -> Table | None:
    """The prices that there are, with what each leaves; None when there are none.

    The part for the page of the piece stands in a narrow column: there the workings tell what is not shown.
    """
    priced = [asking for asking in askings if not asking.price.problem]
    if not priced:
        return None
    tax = Filled(Column("tax", "Tax in it", "money"), [asking.price.tax_micro for asking in priced])
    filled = [
        Filled(Column("price", "Price"), [asking.label for asking in priced]),
        Filled(Column("ask", "Ask", "money", on_phone=True), [asking.price.asked_micro for asking in priced]),
        *([tax] if any(tax.cells) and not is_part else []),
        Filled(Column("left", "Left after its cost", "money"), [asking.left.micro for asking in priced]),
    ]
    if is_part:
        return fill_table(caption, filled)
    margin, markup = Column("margin", "Margin", "percent"), Column("markup", "Markup", "percent")
    filled.append(Filled(margin, [asking.left.margin_pct100 for asking in priced]))
    filled.append(Filled(markup, [asking.left.markup_pct100 for asking in priced]))
    note = "The margin is what is left, of what comes in after tax and fees; the markup is the same, on the cost."
    return fill_table(caption, filled, note)


@report(
    "pieces-cost",
    "What the pieces cost",
    "Every piece cast in a time: its grams, what it cost and what to ask for it.",
    MetalForm,
    place=4,
)
def build_pieces_cost(params: Mapping[str, Any]) -> Document:
    """The document of a time. `params` is the cleaned data of MetalForm."""
    first, last, alloy = params["from"], params["to"], params.get("alloy")
    studio = current_studio()
    costed = cost_casts(closed_cast_ids(first, last, alloy)).values()
    newest = sorted(costed, key=lambda one: (one.cast.day, one.cast.number), reverse=True)
    return make_document(
        studio,
        "What the pieces cost",
        _blocks_of(newest, rules_of_today(), studio.penny_micro),
        subtitle=str(alloy) if alloy else "",
        period_text=f"cast {say_period(first, last)}",
        filename=f"pieces {first} to {last}",
    )


def _blocks_of(costed: Sequence[CostedCast], rules: tuple[PriceRule, ...], penny_micro: int) -> list[Block]:
    """Figures as they stand in the table of their cast, so that both say the same."""
    printed = [compute_printed(one.cost, penny_micro) for one in costed]
    places = [
        (one, shown, place)
        for one, shown in zip(costed, printed, strict=True)
        for place in one.inputs.good_places
    ]
    if not places:
        return [Prose("No piece was cast in this time.")]
    metal_micro, cost_micro = _add_up(costed, penny_micro)
    metal = Filled(
        Column("metal", "Of it metal", "money"),
        [shown.line(inputs.OWN_METAL).piece_micro[place] for _, shown, place in places],
        metal_micro,
        apart=True,
    )
    cost = Filled(
        Column("cost", "Cost", "money", on_phone=True),
        [shown.piece_totals_micro[place] for _, shown, place in places],
        cost_micro,
        apart=True,
    )
    pieces = [(one.cast, one.pieces[place]) for one, _, place in places]
    exact = [one.cost.piece_totals_micro[place] for one, _, place in places]
    table = fill_table(
        "Pieces, newest first",
        [
            Filled(Column("piece", "Piece"), [piece.name for _, piece in pieces], "Together"),
            Filled(Column("cast", "Cast", "number"), [cast.number for cast, _ in pieces]),
            Filled(Column("day", "Day", "day"), [cast.day for cast, _ in pieces]),
            Filled(Column("alloy", "Metal"), [str(cast.alloy) for cast, _ in pieces]),
            Filled(Column("state", "State"), [piece.get_state_display() for _, piece in pieces]),
            summed(Column("mass", "Grams", "mass"), [one.piece_mg[place] for one, _, place in places]),
            metal,
            cost,
            *(
                Filled(
                    column,
                    [
                        "" if one.inputs.customer_metal else _print_asked(amount, rule)
                        for (one, *_), amount in zip(places, exact, strict=True)
                    ],
                )
                for column, rule in zip(price_columns(rules), rules, strict=True)
            ),
        ],
        "Pieces that went back in the pot are left out, and so is the part of a cast's cost that no piece "
        f"carries. Pieces of the studio's own metal are priced by {name_rules(places[0][0].policy, ' of today')}.",
    )
    count = "1 piece was" if len(places) == 1 else f"{len(places)} pieces were"
    said = (
        f"{count} cast in this time and cost {print_money(cost_micro)} together, "
        f"{print_money(metal_micro)} of it metal."
    )
    return [Prose(said), table]


def _print_asked(cost_micro: int, rule: PriceRule) -> Raw:
    price = compute_price(cost_micro, rule)
    return "" if price.problem else price.asked_micro


def _add_up(costed: Sequence[CostedCast], unit_micro: int) -> tuple[int, int]:
    """What the metal in all the pieces cost and what they cost: exact, then rounded, for sums of pennies drift."""
    lines = [line for one in costed for line in one.cost.lines if line.key == inputs.OWN_METAL]
    metal_micro = sum(sum(line.piece_micro) for line in lines)
    cost_micro = sum(sum(one.cost.piece_totals_micro) for one in costed)
    return round_to_unit(metal_micro, unit_micro), round_to_unit(cost_micro, unit_micro)
