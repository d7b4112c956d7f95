"""Plan beside fact, line by line, for the page of one plan and of its cast."""

from dataclasses import dataclass
from functools import cached_property

from costing.core.inputs import LINE_LABELS
from costing.core.rollup import PrintedCost, compute_printed
from costing.queries.estimate import PlanFact
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Piece, Studio
from studio.kit.documents import show_kind
from studio.kit.printing import NOTHING, print_decimal, print_money

from .cost_sheet import penny_of

AS_PLANNED = "as planned"
Compared = tuple[str, str, int | None, int | None]
"""Label, kind of figure, planned, happened; None where it is not known."""


@dataclass(frozen=True)
class FactRow:
    """One line of plan beside fact as it is printed: each has a unit of its own."""

    label: str
    planned: str
    happened: str
    difference: str


@dataclass(frozen=True)
class FactSheet:
    """A plan beside its cast, with costs as they are printed."""

    fact: PlanFact
    studio: Studio

    @cached_property
    def planned(self) -> PrintedCost:
        return compute_printed(self.fact.estimate.cost, penny_of(self.studio))

    @cached_property
    def happened(self) -> PrintedCost | None:
        return compute_printed(self.fact.costed.cost, penny_of(self.studio)) if self.fact.costed else None

    @property
    def planned_micro(self) -> int:
        return self.planned.total_micro

    @property
    def cost_micro(self) -> int | None:
        return self.happened.total_micro if self.happened else None

    @property
    def exact_micro(self) -> tuple[int, int]:
        """What was planned and what it cost before rounding, for sums over many plans; 0 where it is not known."""
        costed = self.fact.costed
        return self.fact.estimate.cost.total_micro, costed.cost.total_micro if costed else 0

    @property
    def cast(self) -> Cast:
        """Raises ValueError for a plan that was not begun: there is nothing to set beside it."""
        if self.fact.cast is None:
            raise ValueError(f"plan {self.fact.plan.pk} has no cast")
        return self.fact.cast

    @cached_property
    def costs(self) -> list[Compared]:
        """The lines of the cost that come to something on either side; each side adds up to its total."""
        planned = {line.key: line.total_micro for line in self.planned.lines}
        happened = {line.key: line.total_micro for line in self.happened.lines} if self.happened else {}
        return [
            (label, "money", planned.get(key, 0), happened.get(key, 0) if self.happened else None)
            for key, label in LINE_LABELS.items()
            if planned.get(key) or happened.get(key)
        ]

    @property
    def sentence(self) -> str:
        name = f"Cast {self.cast.number}"
        planned = print_money(self.planned_micro)
        cost_micro = self.cost_micro
        if cost_micro is None:
            return (
                f"{name} is not closed yet: what it cost is known once its weights are in. It was planned to "
                f"cost {planned}."
            )
        more = cost_micro - self.planned_micro
        failed = " The whole cast failed." if self.cast.outcome == Cast.Outcome.FAILED else ""
        if not more:
            return f"{name} cost {print_money(cost_micro)}, as planned.{failed}"
        said = f"{name} cost {print_money(cost_micro)} and was planned at {planned}: {say_more(more)}."
        return f"{said}{failed} {self._say_most(more)}{self._say_unfinished()}"

    def _say_unfinished(self) -> str:
        """Why time on the pieces may be missing."""
        pieces = self.fact.costed.pieces if self.fact.costed else ()
        count = sum(piece.state == Piece.State.CAST for piece in pieces)
        if not count:
            return ""
        told = "1 piece is" if count == 1 else f"{count} pieces are"
        return f" {told} not finished yet, and the time for that is not in the cost."

    def _say_most(self, more: int) -> str:
        """The line that did most of the difference."""
        differences = [
            ((happened or 0) - (planned or 0), label) for label, _, planned, happened in self.costs
        ]
        most, label = max(differences) if more > 0 else min(differences)
        return f"Most of that is {label.lower()}, {say_more(most)}."


def compare_figures(fact: PlanFact) -> list[Compared]:
    """Grams, shares, hours and energy, planned and as they happened."""
    estimate, plan = fact.estimate, fact.plan
    charge_mg = estimate.charge_mg
    expected = estimate.firing.energy
    water_mg = fact.cast.water_mg if fact.cast else None
    return [
        ("Charge", "mass", charge_mg, fact.charge_mg),
        ("Of it fresh", "percent", share_of(estimate.fresh_mg, charge_mg), fact.fresh_pct100),
        ("Powder", "mass", plan.powder_mg, fact.powder_mg),
        ("Water", "mass", plan.water_mg, water_mg),
        ("Pieces, as cast", "mass", estimate.pieces_mg, fact.pieces_mg),
        ("Button and sprues", "mass", estimate.inputs.back_mg, fact.back_mg),
        ("Lost", "mass", plan.expected_loss_mg, fact.lost_mg),
        ("Yield", "percent", share_of(estimate.pieces_mg, charge_mg), fact.yield_pct100),
        ("In the kiln", "minutes", estimate.firing.minutes, fact.fired_minutes),
        (
            "Energy of the firing",
            "energy",
            None if expected.problem else expected.energy_wh,
            fact.energy_wh,
        ),
    ]


def figure_rows(sheet: FactSheet) -> list[FactRow]:
    return [_row(compared) for compared in compare_figures(sheet.fact)]


def cost_rows(sheet: FactSheet) -> list[FactRow]:
    """The lines of the cost, and the total last."""
    whole = ("The whole cast", "money", sheet.planned_micro, sheet.cost_micro)
    return [_row(compared) for compared in (*sheet.costs, whole)]


def _row(compared: Compared) -> FactRow:
    label, kind, planned, happened = compared
    difference = say_difference(kind, planned, happened)
    return FactRow(label, show_kind(kind, planned), show_kind(kind, happened), difference)


def say_difference(kind: str, planned: int | None, happened: int | None) -> str:
    """ "1.20 g more", "2 h less", "as planned"; nothing where one of the two is not known."""
    if planned is None or happened is None:
        return NOTHING
    if planned == happened:
        return AS_PLANNED
    apart = abs(happened - planned)
    # Per cent of per cent would be read in two ways.
    said = f"{print_decimal(apart, 2, most=2)} points" if kind == "percent" else show_kind(kind, apart)
    return f"{said} {'more' if happened > planned else 'less'}"


def say_more(more: int) -> str:
    return f"{print_money(abs(more))} {'more' if more > 0 else 'less'}"


def share_of(part_mg: int, whole_mg: int) -> int | None:
    return compute_share_pct100(part_mg, whole_mg) if whole_mg else None
