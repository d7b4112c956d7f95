"""What a plan will cost: the page of its own and the part that the plan's page shows."""

from dataclasses import dataclass, replace
from functools import cached_property

from costing.core.printed import GROUPS, PrintedCost, compute_printed
from costing.core.sharing import FAILED, SetAside
from costing.queries.estimate import PlanEstimate
from costing.queries.wear import day_of
from inventory.models import Studio
from studio.kit.chart_pen import Picture
from studio.kit.charts import cost_bar
from studio.kit.documents import Block, Column, Document, Facts, Heading, Prose, Raw, Table, WorkingBlock
from studio.kit.printing import print_day, print_energy, print_mass, print_minutes, print_money

from .cast_cost import PIECES_SHOWN
from .cast_tables import BASIS_WORDS
from .layout import make_document, penny_of, say_rules

WHOLE = "The whole cast"


@dataclass(frozen=True)
class PlanSheet:
    """An estimate with its figures as printed: every sum shown is the sum of what is shown."""

    estimate: PlanEstimate
    studio: Studio

    @cached_property
    def printed(self) -> PrintedCost:
        return compute_printed(self.estimate.cost, penny_of(self.studio))

    @property
    def sentence(self) -> str:
        estimate, total = self.estimate, print_money(self.printed.total_micro)
        said = [f"Estimated: the cast will cost {total}."]
        if estimate.plan.owner_id is not None:
            said.append(f"The metal is {estimate.plan.owner}'s and carries no cost here: this is the work.")
        said += [*estimate.notes, say_rules(estimate.policy, day_of(estimate.plan))]
        return " ".join(one for one in said if one)


def table_plan_pieces(sheet: PlanSheet) -> Table:
    """Each piece with what it will carry, and below the pieces what none of them carries."""
    pieces, printed, groups = sheet.estimate.inputs.pieces, sheet.printed, list(sheet.printed.groups.values())
    columns = (
        Column("piece", "Piece"),
        Column("mass", "Grams", "mass"),
        *(Column(label.lower().replace(" ", "_"), label, "money") for label in printed.groups),
        Column("cost", "Cost", "money", on_phone=True),
    )
    carried = [*printed.piece_totals_micro, *printed.aside_totals_micro]
    named: list[tuple[Raw, Raw]] = [(piece.label, piece.mass_mg) for piece in pieces]
    named += [(_say_aside(aside), "") for aside in sheet.estimate.cost.set_aside]
    rows: list[tuple[Raw, ...]] = [
        (label, mass, *(cells[place] for cells in groups), carried[place])
        for place, (label, mass) in enumerate(named)
    ]
    totals: tuple[Raw, ...] = (
        WHOLE,
        sheet.estimate.pieces_mg,
        *(sum(cells) for cells in groups),
        printed.total_micro,
    )
    return Table("What each piece will cost, estimated", columns, rows, totals)


def table_first_pieces(sheet: PlanSheet) -> Table:
    """The same for a part of another page, which cannot turn leaves: the first, and the totals of all."""
    whole = table_plan_pieces(sheet)
    if len(whole.rows) <= PIECES_SHOWN:
        return whole
    note = f"The first {PIECES_SHOWN} of {len(whole.rows)} lines; the page of the cost has all of them."
    return replace(whole, rows=whole.rows[:PIECES_SHOWN], note=note)


def _say_aside(aside: SetAside) -> str:
    """A plan has not failed: what stands so in its roll-up is the cost of a tree without a piece."""
    if aside.key == FAILED:
        return "On no piece"
    return f"Set aside: {aside.label.lower()}"


def table_plan_lines(sheet: PlanSheet) -> Table:
    """Every line of the estimate and how the pieces share it."""
    rows: list[tuple[Raw, ...]] = [
        (
            line.label,
            BASIS_WORDS[line.basis] if line.basis else "each its own",
            sheet.printed.line(line.key).total_micro,
        )
        for line in sheet.estimate.lines
    ]
    columns = (
        Column("line", "Line"),
        Column("shared", "Shared by"),
        Column("total", "Together", "money", on_phone=True),
    )
    return Table("What the estimate is made of", columns, rows, (WHOLE, None, sheet.printed.total_micro))


def picture_plan_cost(sheet: PlanSheet) -> Picture:
    return cost_bar([(label, sheet.printed.group_total_micro(label)) for label in GROUPS])


def make_plan_document(sheet: PlanSheet) -> Document:
    plan = sheet.estimate.plan
    return make_document(
        sheet.studio,
        "plan-cost",
        f"What plan {plan.pk} will cost, estimated",
        [
            _facts(sheet),
            Prose(sheet.sentence),
            table_plan_pieces(sheet),
            picture_plan_cost(sheet),
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
    energy = "not known" if firing.energy.problem else print_energy(firing.energy.energy_wh)
    return Facts(
        (
            ("Metal", str(plan.alloy)),
            ("Charge", print_mass(estimate.inputs.charge_mg)),
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
