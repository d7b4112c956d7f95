"""The run sheet of a casting day, to pin on the wall: what to weigh out, when to do what, with room to write."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils import timezone

from inventory.core.timetable import DayLine
from inventory.core.vacuum import find_most_vacuum
from inventory.forms.day_practice import RunSheetForm
from inventory.models import ChecklistItem, DayPractice, Plan
from inventory.queries.days import Bowl, DaySheet, charge_of, items_for, read_day
from inventory.queries.plans import plan_cautions
from inventory.queries.setup import checklist_lines
from inventory.queries.studio import current_studio
from studio.kit.documents import (
    Block,
    Care,
    Column,
    Document,
    Facts,
    Filled,
    NoteLines,
    Prose,
    Table,
    fill_table,
)
from studio.kit.printing import print_day, print_mass, print_minutes, print_moment, print_vacuum
from studio.kit.reporting import report

NOTE_LINES = 4
MOST_FLASK_COLUMNS = 6
"""More flasks than this share a box: nobody ticks a smaller one."""


@report(
    "run-sheet",
    "Run sheet of a casting day",
    "What to weigh out, the timetable with boxes to tick, and room to write: to pin on the wall.",
    RunSheetForm,
    place=1,
)
def build_run_sheet(params: Mapping[str, Any]) -> Document:
    sheet = read_day(params["casting_day"])
    if sheet is None or sheet.timetable is None:
        raise ValueError(f"casting day {params['casting_day']} has no timetable")
    return make_run_sheet(sheet, checklist_lines())


def make_run_sheet(sheet: DaySheet, items: Sequence[ChecklistItem]) -> Document:
    """What `read_day` found of a day that has a timetable."""
    studio = current_studio()
    day = timezone.localtime(sheet.day.wish_at)
    remarks = sheet.timetable.remarks if sheet.timetable else ()
    return Document(
        title="Run sheet",
        subtitle=f"{print_day(day, with_year=True)}: {', '.join(plan.title for plan in sheet.flasks)}",
        studio=studio.name,
        made_on=timezone.localdate(sheet.now),
        period_text=f"casting day {sheet.day.pk}",
        blocks=(
            _facts(sheet),
            *(_table_charge(plan, sheet) for plan in sheet.flasks),
            Care("powder"),
            *(_table_bowl(bowl) for bowl in sheet.bowls),
            Care("burnout"),
            *([Prose(" ".join(remarks))] if remarks else []),
            _table_day(sheet.lines),
            Care("pour"),
            *(Care(kind) for kind in plan_cautions(sheet.flasks)),
            Care("flux"),
            _list_checks(sheet.flasks, items),
            _table_to_write("Read at the pour", READINGS, sheet.flasks, _say_most_vacuum(sheet.practice)),
            _table_to_write("Weighed after it", WEIGHTS, sheet.flasks),
            Care("quench"),
            NoteLines("Notes", NOTE_LINES),
        ),
        filename=f"run-sheet-{day:%Y-%m-%d}",
        currency=studio.currency,
        tight=_lay_tight(sheet, items),
        most_sheets=min(len(sheet.flasks), 2),
    )


def _lay_tight(sheet: DaySheet, items: Sequence[ChecklistItem]) -> tuple[Any, ...]:
    """The same for the wall, each word of care still where the work is."""
    remarks = sheet.timetable.remarks if sheet.timetable else ()
    charges = [_table_charge(plan, sheet) for plan in sheet.flasks]
    powder = (*(_table_bowl(bowl) for bowl in sheet.bowls), Care("powder"), Care("burnout"))
    checks = (_list_checks(sheet.flasks, items), Care("pour"), Care("flux"))
    said_most = _say_most_vacuum(sheet.practice)
    first: tuple[Any, ...]
    second: tuple[Any, ...]
    if len(charges) == 1:
        written = (
            _list_to_write("Read at the pour", READINGS, said_most),
            _list_to_write("Weighed after it", WEIGHTS),
        )
        first, second = ((tuple(charges), powder),), ((checks, written),)
    else:
        first = (tuple(charges[::2]), tuple(charges[1::2])), (powder[:-2], powder[-2:])
        second = (
            checks[0],
            (checks[1:2], checks[2:]),
            _table_to_write("Read at the pour", READINGS, sheet.flasks, said_most),
            _table_to_write("Weighed after it", WEIGHTS, sheet.flasks),
        )
    return (
        _facts(sheet),
        *first,
        *([Prose(" ".join(remarks))] if remarks else []),
        _table_day(sheet.lines),
        *second,
        *(Care(kind) for kind in plan_cautions(sheet.flasks)),
        Care("quench"),
        NoteLines("Notes", NOTE_LINES),
    )


def _facts(sheet: DaySheet) -> Facts:
    day = sheet.day
    table = sheet.timetable
    hours = print_minutes(table.total_minutes) if table else ""
    if table and table.queue_minutes:
        hours += f", and {print_minutes(table.queue_minutes)} until the last flask is out"
    program = "runs its program by itself" if day.kiln.has_program else "set by hand"
    return Facts(
        (
            ("Kiln", f"{day.kiln}, {program}"),
            ("Schedule", f"{day.schedule} ({hours})"),
            (day.get_wish_display().capitalize(), print_moment(timezone.localtime(day.wish_at))),
        )
    )


def _table_charge(plan: Plan, sheet: DaySheet) -> Table:
    whose = f", metal of {plan.owner}" if plan.owner else ""
    crucible = f" Crucible: {plan.crucible}." if plan.crucible else ""
    # "Melts: 802 to 893 °C. Metal at the pour: ..."
    own = sheet.pour_of(plan)
    heats = " ".join(f"{name}: {shown}." for name, shown in (own.facts if own else ()))
    return _table_weighings(
        f"{plan.flask}: {plan.title}, {plan.alloy}{whose}",
        Filled(Column("lot", "Metal"), [one.label for one in charge_of(plan)], "Charge"),
        [one.mass_mg for one in charge_of(plan)],
        plan.metal_mg,
        f"{crucible} {heats} {plan.note}".strip(),
    )


def _table_weighings(
    caption: str, named: Filled, masses_mg: Sequence[int], total_mg: int | None, note: str
) -> Table:
    """What to weigh, with room to write what was weighed."""
    mass = Filled(Column("mass", "Mass", "mass", on_phone=True), masses_mg, total_mg)
    weighed = Filled(Column("weighed", "Weighed", "blank", on_phone=False), [None] * len(masses_mg))
    return fill_table(caption, [named, mass, weighed], note)


def _table_bowl(bowl: Bowl) -> Table:
    shares = zip(bowl.plans, bowl.mix.shares_mg, strict=True)
    of_each = "; ".join(f"{plan.flask} ({plan.title}) {print_mass(share)}" for plan, share in shares)
    shared = f"Powder for each flask: {of_each}. " if len(bowl.plans) > 1 else ""
    if len(bowl.fillings) > 1:
        shared += " ".join(
            f"Mix {number}, for {label}: {print_mass(powder)} into {print_mass(water)} of water."
            for number, (label, powder, water) in enumerate(bowl.fillings, 1)
        )
        shared += " "
    labels = [*(one.label for one in bowl.weighings), "Water; 1 g is 1 ml"]
    return _table_weighings(
        f"{bowl.powder}, {bowl.name}: {print_mass(bowl.mix.powder_mg)}",
        Filled(Column("what", "Powder and water"), labels),
        [*(one.mass_mg for one in bowl.weighings), bowl.mix.water_mg],
        None,
        f"{shared}{bowl.too_much}".strip(),
    )


READINGS = ("Metal °C", "Flask °C", "Vacuum")
WEIGHTS = ("Pieces g", "Button, sprues g", "Failed g", "Filings, spill g")


def _table_to_write(caption: str, labels: Sequence[str], flasks: Sequence[Plan], note: str = "") -> Table:
    """Room to write, a line for each flask."""
    return Table(
        caption=caption,
        columns=(
            Column("flask", "Flask", on_phone=True),
            *(
                Column(f"written-{place}", label, "blank", on_phone=False)
                for place, label in enumerate(labels)
            ),
        ),
        rows=[(plan.title, *[None] * len(labels)) for plan in flasks],
        note=note,
    )


def _list_to_write(caption: str, labels: Sequence[str], note: str = "") -> Table:
    """The same for one flask, a line for each figure."""
    columns = Column("what", "What"), Column("written", "Written", "blank")
    return Table(caption, columns, [(label, None) for label in labels], note=note)


def _say_most_vacuum(practice: DayPractice) -> str:
    height = practice.altitude_m
    return "" if height is None else f"Here a gauge shows {print_vacuum(find_most_vacuum(height))} at most."


def _table_day(lines: Sequence[DayLine]) -> Table:
    return Table(
        caption="Timetable",
        columns=(
            Column("when", "When", "moment"),
            Column("done", "Done", "box", on_phone=False),
            Column("what", "What", on_phone=True),
            Column("set", "Set to", "celsius"),
            Column("who", "Who"),
        ),
        # What is not set stays empty: a dash would look like a set point that is missing.
        rows=[
            (
                line.at,
                None,
                line.sentence,
                "" if line.set_point_c is None else line.set_point_c,
                _say_who(line),
            )
            for line in lines
        ],
    )


def _say_who(line: DayLine) -> str:
    return f"{line.by_whom}, at night" if line.at_night else line.by_whom


def _list_checks(flasks: Sequence[Plan], items: Sequence[ChecklistItem]) -> Block:
    """A line for each thing to look at, and a box for each flask that it applies to."""
    of_each = [items_for(plan.crucible, plan.pump, items) for plan in flasks]
    texts = list(dict.fromkeys(item.text for item in items if any(item.text in of for of in of_each)))
    if not texts:
        return Prose("Your list of what to look at before a pour is still empty: write it in the set-up.")
    if len(flasks) > MOST_FLASK_COLUMNS:
        of_each, labels = [texts], ["Done"]
    else:
        labels = [plan.title for plan in flasks] if len(flasks) > 1 else ["Done"]
    boxes = tuple(
        Column(f"flask-{place}", label, "box", on_phone=False) for place, label in enumerate(labels)
    )
    return Table(
        caption="Before the pour",
        columns=(Column("what", "What"), *boxes),
        rows=[(text, *(None if text in of else "–" for of in of_each)) for text in texts],
    )
