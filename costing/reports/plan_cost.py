"""What a plan will cost: the page of its own and the part that the plan's page shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from costing.core.price import PriceRule, compute_price
from costing.core.rollup import PrintedCost, compute_printed
from costing.core.sharing import FAILED, SetAside
from costing.queries.estimate import PlanEstimate
from costing.queries.wear import day_of
from inventory.models import Studio
from inventory.reports.making import make_document
from studio.kit.documents import (
    Block,
    Document,
    Facts,
    Filled,
    Heading,
    Prose,
    Raw,
    Table,
    WorkingBlock,
    fill_table,
)
from studio.kit.measures import ENERGY
from studio.kit.printing import print_day, print_minutes, print_money, print_weighed

from .cost_sheet import (
    fill_pieces,
    picture_cost,
    price_columns,
    say_asked,
    say_rules,
    table_lines,
)

WHOLE = "The whole cast"


@dataclass(frozen=True)
class PlanSheet:
    """An estimate with its figures as printed: every sum shown is the sum of what is shown."""

    estimate: PlanEstimate
    studio: Studio

    @cached_property
    def printed(self) -> PrintedCost:
        return compute_printed(self.estimate.cost, self.studio.penny_micro)

    @property
    def sentence(self) -> str:
        estimate, total = self.estimate, print_money(self.printed.total_micro)
        said = [f"Estimated: the cast will cost {total}."]
        if estimate.plan.owner_id is not None:
            said.append(f"The metal is {estimate.plan.owner}'s and carries no cost here: this is the work.")
        said += [*estimate.notes, say_rules(estimate.policy, day_of(estimate.plan))]
        return " ".join(one for one in said if one)


def say_plan_pieces(sheet: PlanSheet, rules: Sequence[PriceRule]) -> list[str]:
    """A sentence for each kind of piece on the tree: what one of them will cost, and what to ask for it."""
    said, place = [], 0
    for part in sheet.estimate.plan.parts.all():
        if not part.is_piece:
            continue
        asked = _price(sheet, place, rules)
        cost = print_money(sheet.printed.piece_totals_micro[place])
        ask = f"; ask {', '.join(asked)}" if asked else ""
        said.append(f"{'Each ' if part.count > 1 else ''}{part.label} will cost {cost}{ask}.")
        place += part.count
    return said


def _price(sheet: PlanSheet, place: int, rules: Sequence[PriceRule]) -> list[str]:
    priced = [(compute_price(sheet.estimate.cost.piece_totals_micro[place], rule), rule) for rule in rules]
    return [say_asked(price, rule) for price, rule in priced if not price.problem]


def table_plan_pieces(sheet: PlanSheet, rules: Sequence[PriceRule] = ()) -> Table:
    """Each piece with what it will carry, and below the pieces what none of them carries.

    With rules of price, what to ask for each in a column by rule.
    """
    estimate = sheet.estimate
    pieces, aside = estimate.inputs.pieces, estimate.cost.set_aside
    labels = [*(piece.label for piece in pieces), *(_say_aside(one) for one in aside)]
    masses: list[Raw] = [*(piece.mass_mg for piece in pieces), *("" for _ in aside)]
    filled = fill_pieces(sheet.printed, labels, masses, WHOLE, estimate.pieces_mg)
    for column, rule in zip(price_columns(rules), rules, strict=True):
        prices = [compute_price(cost_micro, rule) for cost_micro in estimate.cost.piece_totals_micro]
        asked: list[Raw] = ["" if price.problem else price.asked_micro for price in prices]
        filled.append(Filled(column, [*asked, *("" for _ in aside)]))
    return fill_table("What each piece will cost, estimated", filled)


def _say_aside(aside: SetAside) -> str:
    """A plan has not failed: what stands so in its roll-up is the cost of a tree without a piece."""
    if aside.key == FAILED:
        return "On no piece"
    return f"On no piece: {aside.label.lower()}"


def table_plan_lines(sheet: PlanSheet) -> Table:
    """Every line of the estimate and how the pieces share it."""
    return table_lines("What the estimate is made of", sheet.estimate.lines, sheet.printed, WHOLE)


def make_plan_document(sheet: PlanSheet) -> Document:
    plan = sheet.estimate.plan
    return make_document(
        sheet.studio,
        f"What plan {plan.pk} will cost, estimated",
        [
            _facts(sheet),
            Prose(sheet.sentence),
            table_plan_pieces(sheet),
            picture_cost(sheet.printed),
            table_plan_lines(sheet),
            *_workings(sheet),
        ],
        subtitle=plan.title,
        period_text=f"planned for {print_day(day_of(plan), with_year=True)}",
        filename=f"plan-{plan.pk}-cost",
    )


def _facts(sheet: PlanSheet) -> Facts:
    estimate = sheet.estimate
    plan, firing = estimate.plan, estimate.firing
    energy = "not known" if firing.energy.problem else ENERGY.print_in_column(firing.energy.energy_wh)
    return Facts(
        (
            ("Metal", str(plan.alloy)),
            ("Charge", print_weighed(estimate.inputs.charge_mg)),
            ("Flask", str(plan.flask)),
            ("Kiln", f"{plan.day.kiln}, {print_minutes(firing.minutes)}, energy {energy}"),
            ("Schedule", str(plan.day.schedule)),
        )
    )


def _workings(sheet: PlanSheet) -> list[Block]:
    estimate = sheet.estimate
    blocks: list[Block] = [Heading("How the estimate came about")]
    blocks += [WorkingBlock(working) for working in estimate.workings]
    correction = estimate.firing.correction
    if estimate.firing.energy.problem:
        return blocks
    if correction.working:
        return [*blocks, WorkingBlock(correction.working)]
    return [*blocks, Prose(correction.sentence)]
