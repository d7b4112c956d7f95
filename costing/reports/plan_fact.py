"""Plan beside fact: line by line for one plan and its cast, and the plans of a time."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from costing.core.inputs import LINE_LABELS
from costing.core.rollup import PrintedCost, compute_printed
from costing.forms.reports import PeriodForm
from costing.queries.estimate import PlanFact, facts_of, plan_ids_of
from costing.queries.wear import day_of
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast, Piece, Studio
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    BEFORE_ROUNDING,
    Block,
    Column,
    Document,
    Filled,
    Prose,
    Raw,
    Table,
    say_rounding,
    show_kind,
)
from studio.kit.printing import NOTHING, print_decimal, print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit
from studio.kit.scale import round_weights

from .cost_sheet import say_period

AS_PLANNED = "as planned"
_OUT_OF_THE_CHARGE = _PIECES, _BACK, _LOST = "Pieces, as cast", "Button and sprues", "Lost"

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
        return compute_printed(self.fact.estimate.cost, self.studio.penny_micro)

    @cached_property
    def happened(self) -> PrintedCost | None:
        return compute_printed(self.fact.costed.cost, self.studio.penny_micro) if self.fact.costed else None

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
        (_PIECES, "mass", estimate.pieces_mg, fact.pieces_mg),
        (_BACK, "mass", estimate.inputs.back_mg, fact.back_mg),
        (_LOST, "mass", plan.expected_loss_mg, fact.lost_mg),
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
    """Grams as the scale shows them: on each side, what came of the charge adds up to it."""
    figures = compare_figures(sheet.fact)
    planned = _round_weights({label: figure for label, kind, figure, _ in figures if kind == "mass"})
    happened = _round_weights({label: figure for label, kind, _, figure in figures if kind == "mass"})
    return [
        _row((label, kind, planned.get(label, plan), happened.get(label, fact)))
        for label, kind, plan, fact in figures
    ]


def _round_weights(masses_mg: dict[str, int | None]) -> dict[str, int | None]:
    known = {label: mass_mg for label, mass_mg in masses_mg.items() if mass_mg is not None}
    parts = [label for label in known if label in _OUT_OF_THE_CHARGE]
    shown = {label: round_weights([mass_mg])[0] for label, mass_mg in known.items()}
    return masses_mg | shown | dict(zip(parts, round_weights([known[label] for label in parts]), strict=True))


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


_PLANNED_COST = Column("planned_cost", "Cost planned", "money")
_COST = Column("cost", "Cost", "money")


@report(
    "plan-and-fact",
    "Planned and happened",
    "The plans of a time beside their casts: charge, yield and cost, and how far they are apart.",
    PeriodForm,
    place=6,
)
def build_plan_and_fact(params: Mapping[str, Any]) -> Document:
    """The plans of a time beside what happened. `params` is the cleaned data of PeriodForm."""
    first, last, studio = params["from"], params["to"], current_studio()
    facts = [FactSheet(fact, studio) for fact in facts_of(plan_ids_of(first, last)).values()][::-1]
    return make_document(
        studio,
        "Planned and happened",
        _blocks(facts),
        period_text=f"planned for {say_period(first, last)}",
        filename=f"plan-and-fact {first} to {last}",
    )


def _blocks(sheets: list[FactSheet]) -> list[Block]:
    if not sheets:
        return [Prose("No cast was planned for this time.")]
    closed = [sheet for sheet in sheets if sheet.fact.costed]
    plans = "1 cast was" if len(sheets) == 1 else f"{len(sheets)} casts were"
    said = f"{plans} planned for this time, and {len(closed)} of them {'is' if len(closed) == 1 else 'are'} closed."
    if closed:
        planned_micro, cost_micro = _add_up_costs(closed)
        more = cost_micro - planned_micro
        apart = say_more(more) if more else AS_PLANNED
        said += f" Those cost {print_money(cost_micro)} and were planned at {print_money(planned_micro)}: {apart}."
    table = Table(
        "Plans, newest first",
        (
            Column("plan", "Plan"),
            Column("cast", "Cast", "number"),
            Column("day", "Day", "day"),
            Column("planned_charge", "Charge planned", "mass"),
            Column("charge", "Charged", "mass"),
            Column("planned_yield", "Yield planned", "percent"),
            Column("yield", "Yield", "percent"),
            _PLANNED_COST,
            _COST,
            Column("difference", "Difference", "money", on_phone=True),
            Column("apart", "Against plan", on_phone=True),
        ),
        [_report_row(sheet) for sheet in sheets],
        _report_totals(closed) if closed else None,
        _say_totals(sheets, closed),
    )
    return [Prose(said), table]


def _add_up_costs(closed: list[FactSheet]) -> tuple[int, int]:
    """What was planned and what it cost together, as printed: added up exactly and then rounded."""
    both = zip(*(sheet.exact_micro for sheet in closed), strict=True)
    planned_micro, cost_micro = (round_to_unit(sum(exact), closed[0].studio.penny_micro) for exact in both)
    return planned_micro, cost_micro


def _say_totals(sheets: list[FactSheet], closed: list[FactSheet]) -> str:
    if not closed:
        return ""
    said = ["The last line counts only the plans whose cast is closed."] if len(closed) < len(sheets) else []
    return " ".join([*said, _say_rounding(closed)]).strip()


def _say_rounding(closed: list[FactSheet]) -> str:
    planned_micro, cost_micro = _add_up_costs(closed)
    planned = Filled(_PLANNED_COST, [sheet.planned_micro for sheet in closed], planned_micro)
    return say_rounding(planned, Filled(_COST, [sheet.cost_micro for sheet in closed], cost_micro))


def _report_row(sheet: FactSheet) -> tuple[Raw, ...]:
    fact = sheet.fact
    planned = fact.estimate.charge_mg, fact.estimate.pieces_mg, sheet.planned_micro
    return (
        fact.plan.title,
        fact.cast.number if fact.cast else "not begun",
        day_of(fact.plan),
        *_compare(planned, fact.charge_mg, fact.yield_pct100, sheet.cost_micro),
    )


def _report_totals(closed: list[FactSheet]) -> tuple[Raw, ...]:
    estimates = [sheet.fact.estimate for sheet in closed]
    charge_mg = sum(sheet.fact.charge_mg or 0 for sheet in closed)
    pieces_mg = sum(sheet.fact.pieces_mg or 0 for sheet in closed)
    planned_micro, cost_micro = _add_up_costs(closed)
    planned = sum(one.charge_mg for one in estimates), sum(one.pieces_mg for one in estimates), planned_micro
    happened = _compare(planned, charge_mg, share_of(pieces_mg, charge_mg), cost_micro)
    word = f"Closed, together{BEFORE_ROUNDING if _say_rounding(closed) else ''}"
    return (word, None, None, *happened)


def _compare(
    planned: tuple[int, int, int], charge_mg: int | None, yield_pct100: int | None, cost_micro: int | None
) -> tuple[Raw, ...]:
    """Charge, yield and cost as planned (grams charged, grams of pieces, cost) beside what happened."""
    planned_mg, pieces_mg, planned_micro = planned
    difference, side = None, "not known yet"
    if cost_micro is not None:
        difference = cost_micro - planned_micro
        side = "dearer" if difference > 0 else "cheaper" if difference < 0 else AS_PLANNED
    return (
        planned_mg,
        charge_mg,
        share_of(pieces_mg, planned_mg),
        yield_pct100,
        planned_micro,
        cost_micro,
        difference,
        side,
    )
