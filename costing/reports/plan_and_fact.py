"""The plans of a time beside what happened: charge, yield and cost."""

from collections.abc import Mapping
from typing import Any

from costing.forms.reports import PeriodForm
from costing.queries.estimate import facts_of, plan_ids_of
from costing.queries.wear import day_of
from inventory.queries.studio import current_studio
from studio.kit.documents import Block, Column, Document, Filled, Prose, Raw, Table
from studio.kit.printing import print_money
from studio.kit.reporting import report
from studio.kit.rounding import round_to_unit

from .cost_sheet import make_document, penny_of, say_period, say_rounding
from .plan_fact import AS_PLANNED, FactSheet, say_more, share_of

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
            Column("cast", "Cast"),
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
    planned_micro, cost_micro = (round_to_unit(sum(exact), penny_of(closed[0].studio)) for exact in both)
    return planned_micro, cost_micro


def _say_totals(sheets: list[FactSheet], closed: list[FactSheet]) -> str:
    if not closed:
        return ""
    said = ["The last line counts only the plans whose cast is closed."] if len(closed) < len(sheets) else []
    planned_micro, cost_micro = _add_up_costs(closed)
    planned = Filled(_PLANNED_COST, [sheet.planned_micro for sheet in closed], planned_micro)
    happened = Filled(_COST, [sheet.cost_micro for sheet in closed], cost_micro)
    return " ".join([*said, say_rounding(planned, happened)]).strip()


def _report_row(sheet: FactSheet) -> tuple[Raw, ...]:
    fact = sheet.fact
    planned = fact.estimate.charge_mg, fact.estimate.pieces_mg, sheet.planned_micro
    return (
        fact.plan.title,
        str(fact.cast.number) if fact.cast else "not begun",
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
    return ("Closed, together", None, None, *happened)


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
