"""One figure for one thing: every page and every file of the demo's year prints it alike, beside its exact value.

Exact values are added up here from what the roll-up and the book say; what is printed is read back from the pages and
files themselves.
"""

import io
from datetime import date

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from pypdf import PdfReader

from costing.core.inputs import LINE_LABELS, LOST_METAL, OWN_METAL
from costing.core.rollup import GROUPS
from costing.queries.costed import cost_casts
from costing.queries.estimate import facts_of
from costing.queries.held import stock_on
from costing.queries.losses import cast_losses
from costing.reports.cast_cost import make_cast_document, rules_of_today
from costing.reports.cost_sheet import CastSheet
from inventory.models import Cast, Plan
from inventory.queries.casting_page import read_cast_page
from inventory.queries.stock import metal_on_hand
from inventory.queries.studio import current_studio
from studio.kit.pdf import render_pdf
from tests.costing.printed_tables import (
    PENNY,
    Figures,
    document_tables,
    file_tables,
    laid_tables,
    page_tables,
    read_amount,
)
from tests.costing.sums import exact_sums

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_year")]

MILLIGRAM_UG = 1_000
EVER = "from=2020-01-01"
KEYS = {label: key for key, label in LINE_LABELS.items()}


@pytest.fixture
def reader(client):
    client.force_login(User.objects.first())
    return client


@pytest.fixture(scope="module")
def costed(demo_year, django_db_blocker):
    with django_db_blocker.unblock():
        return {
            one.cast.number: one for one in cost_casts(Cast.objects.values_list("pk", flat=True)).values()
        }


def add_pieces(figures, owner, cost, table, where):
    """The table of pieces of a cast or a plan: each piece, what was set aside, and the totals."""
    exact, count = exact_sums(cost), len(cost.piece_totals_micro)
    headings, *rows, totals = table
    assert len(rows) == count + len(cost.set_aside), where
    for nth, row in enumerate(rows):
        side, place = ("pieces", nth) if nth < count else ("aside", nth - count)
        for heading, text in zip(headings, row, strict=True):
            if heading in GROUPS:
                name = ("column and group", side, place, heading)
            elif heading == "Cost":
                name = ("column", side, place)
            else:
                continue
            figures.add((owner, *name), text, exact[name], where)
    for heading, text in zip(headings, totals, strict=True):
        name = ("group", heading) if heading in GROUPS else ("whole",) if heading == "Cost" else None
        if name:
            figures.add((owner, *name), text, exact[name], where)


def add_lines(figures, owner, cost, table, where):
    """The table of lines: each with what is on the pieces and what was set aside, and the totals."""
    exact, sides = exact_sums(cost), {"On the pieces": "pieces", "On no piece": "aside"}
    headings, *rows = table
    for row in rows:
        key = KEYS.get(row[0])
        for heading, text in zip(headings, row, strict=True):
            if heading in sides:
                name = ("line and side", key, sides[heading]) if key else ("side", sides[heading])
            elif heading == "Together":
                name = ("line", key) if key else ("whole",)
            else:
                continue
            figures.add((owner, *name), text, exact[name], where)


def add_charge(figures, one, page, table, where):
    """What went into the crucible: fine metal and cost of each portion, and of all."""
    columns = {"Cost": ("cost", [line.cost_micro for line in page.charge], 10_000)}
    columns |= {
        f"Fine {metal}": ("fine", [portion.fine_ug for portion in page.portions], MILLIGRAM_UG)
        for metal in (one.cast.alloy.metal,)
    }
    headings, *rows = table
    for heading, texts in zip(headings, zip(*rows, strict=True), strict=True):
        if heading in columns:
            name, amounts, unit = columns[heading]
            for place, (text, exact) in enumerate(zip(texts, [*amounts, sum(amounts)], strict=True)):
                figures.add((one.cast.number, "charge", name, place), text, exact, where, unit)


def test_every_figure_of_a_casts_cost_is_the_same_on_every_page_and_in_every_file(reader, costed):
    """Each cast laid out for its page and in its three files; pages and paper take long, so each renders one page."""
    figures, studio, rules, shapes = Figures(), current_studio(), rules_of_today(), []
    for number, one in costed.items():
        # The cost that was worked out for all at once; the pages work it out for themselves.
        page = read_cast_page(one.cast, studio)
        sheet = CastSheet(one, page, rules if one.cast.owner_id is None else ())
        document = make_cast_document(sheet, studio)
        laid = laid_tables(document)
        add_cast(figures, sheet, laid, "as laid out")
        for where, tables in document_tables(document):
            add_cast(figures, sheet, tables, where)
        # What is laid out alike is put on paper alike: one cast of each shape, and every fifth.
        shape = {caption: tuple(table[0]) for caption, table in laid.items()}
        if shape not in shapes or number % 5 == 0:
            shapes.append(shape)
            check_paper(document, laid)
        render_one_page(figures, reader, sheet)
    add_losses(figures, reader, costed)
    add_all_pieces(figures, reader, costed)
    add_plans(figures, reader)
    assert len(costed) == 41


def add_cast(figures, sheet, tables, where):
    number, cost = sheet.costed.cast.number, sheet.costed.cost
    add_pieces(figures, number, cost, tables["What each piece cost"], where)
    add_lines(figures, number, cost, tables["What the cost is made of"], where)
    add_charge(figures, sheet.costed, sheet.page, tables["What went into the crucible"], where)


def render_one_page(figures, reader, sheet):
    """In turn the page of the cost, its part of the cast's page, and the page of a piece."""
    one, number = sheet.costed, sheet.costed.cast.number
    address = f"/casts/{number}/cost/"
    if number % 3 == 0:
        add_cast(figures, sheet, page_tables(reader, address), address)
    elif number % 3 == 1:
        part = page_tables(reader, f"{address}?part=1")
        pieces = part.get("What each piece cost") or part["What no piece carries"]
        add_pieces(figures, number, one.cost, pieces, f"{address}?part=1")
    elif one.inputs.good_places:
        add_single_piece(figures, reader, one, one.inputs.good_places[number % len(one.inputs.good_places)])


def add_single_piece(figures, reader, one, place):
    address, exact = f"/pieces/{one.pieces[place].pk}/cost/", exact_sums(one.cost)
    table = next(rows for rows in page_tables(reader, address).values() if rows[0] == ["Line", "Cost"])
    for label, text in table[1:-1]:
        name = ("cell", KEYS[label], "pieces", place)
        figures.add((one.cast.number, *name), text, exact[name], address)
    name = ("column", "pieces", place)
    figures.add((one.cast.number, *name), table[-1][1], exact[name], address)


def check_paper(document, tables):
    """Each row of the tables of money stands on paper, figure by figure."""
    captions = ("What each piece cost", "What the cost is made of", "What went into the crucible")
    rows = [" ".join(" ".join(row[1:]).split()) for caption in captions for row in tables[caption][1:]]
    text = ""
    for sheet in PdfReader(io.BytesIO(render_pdf(document))).pages:
        text += " ".join(sheet.extract_text().split())
        # To read a sheet takes long, and the workings that follow fill most of them.
        if all(row in text for row in rows):
            return
    assert [row for row in rows if row not in text] == [], document.title


def add_losses(figures, reader, costed):
    """The report of lost metal tells for each cast what its cost calls lost; in all it is that of them together."""
    losses = {
        loss.cast.number: loss.lost_micro for loss in cast_losses(date(2020, 1, 1), timezone.localdate())
    }
    assert losses.keys() == costed.keys()
    address = f"/reports/metal-loss/?{EVER}"
    for where, tables in file_tables(reader, address):
        headings, *rows, totals = tables["Cast by cast"]
        cost = headings.index("Cost of it")
        for row in rows:
            number = int(row[0])
            figures.add((number, "line", LOST_METAL), row[cost], losses[number], where)
        figures.add(("lost",), totals[cost], sum(losses.values()), where)
    headings, *rows, totals = page_tables(reader, address)["Cast by cast"]
    for row in rows:
        figures.add((int(row[0]), "line", LOST_METAL), row[-2], losses[int(row[0])], address)
    figures.add(("lost",), totals[-2], sum(losses.values()), address)


def add_all_pieces(figures, reader, costed):
    """The report of all pieces: each with its cost as in the table of its cast, and all together."""
    good = [
        (number, place)
        for number, one in sorted(costed.items(), key=lambda item: (item[1].cast.day, item[0]), reverse=True)
        for place in one.inputs.good_places
    ]
    exact = {number: exact_sums(one.cost) for number, one in costed.items()}
    address = f"/reports/pieces-cost/?{EVER}"
    for where, tables in ((address, page_tables(reader, address)), *file_tables(reader, address)):
        headings, *rows, totals = next(iter(tables.values()))
        metal, cost = headings.index("Of it metal"), headings.index("Cost")
        assert len(rows) == len(good) or where == address
        for (number, place), row in zip(good, rows, strict=False):
            name = ("column", "pieces", place)
            figures.add((number, *name), row[cost], exact[number][name], where)
            name = ("cell", OWN_METAL, "pieces", place)
            figures.add((number, *name), row[metal], exact[number][name], where)
        in_all = [sum(exact[number][name] for number in exact) for name in ALL_PIECES]
        figures.add(("pieces", "cost"), totals[cost], in_all[0], where)
        figures.add(("pieces", "metal"), totals[metal], in_all[1], where)


ALL_PIECES = (("side", "pieces"), ("line and side", OWN_METAL, "pieces"))


def add_plans(figures, reader):
    """What a plan will cost, and plan beside fact: the fact is what the page of its cast says."""
    facts = facts_of(Plan.objects.values_list("pk", flat=True))
    for pk, fact in facts.items():
        owner, cost = ("plan", pk), fact.estimate.cost
        for address in (f"/plans/{pk}/cost/", f"/plans/{pk}/cost/?part=1"):
            tables = page_tables(reader, address)
            add_pieces(figures, owner, cost, tables["What each piece will cost"], address)
            add_lines(figures, owner, cost, tables["What the estimate is made of"], address)
        if fact.costed:
            for address in (f"/plans/{pk}/fact/", f"/plans/{pk}/fact/?part=1"):
                add_plan_and_fact(figures, fact, page_tables(reader, address)["Cost"], address)
    closed = [fact for fact in facts.values() if fact.costed]
    sums = [
        sum(side.cost.total_micro for side in sides) for sides in zip(*map(both_sides, closed), strict=True)
    ]
    address = f"/reports/plan-and-fact/?{EVER}"
    for where, tables in ((address, page_tables(reader, address)), *file_tables(reader, address)):
        headings, *rows, totals = next(iter(tables.values()))
        planned, cost = headings.index("Cost planned"), headings.index("Cost")
        for fact, row in zip(
            sorted(closed, key=lambda one: -one.cast.number), rows[-len(closed) :], strict=True
        ):
            add_totals(figures, fact, row[planned], row[cost], where)
        for place, column in enumerate((planned, cost)):
            figures.add(("plans", place), totals[column], sums[place], where)


def both_sides(fact):
    return fact.estimate, fact.costed


def add_plan_and_fact(figures, fact, table, where):
    *rows, whole = table[1:]
    sides = ((("plan", fact.plan.pk), fact.estimate), (fact.cast.number, fact.costed))
    for row in rows:
        for place, (owner, side) in enumerate(sides, start=1):
            name = ("line", KEYS[row[0]])
            figures.add((owner, *name), row[place], exact_sums(side.cost)[name], where)
    add_totals(figures, fact, whole[1], whole[2], where)


def add_totals(figures, fact, planned, cost, where):
    figures.add((("plan", fact.plan.pk), "whole"), planned, fact.estimate.cost.total_micro, where)
    figures.add((fact.cast.number, "whole"), cost, fact.costed.cost.total_micro, where)


def test_what_is_in_stock_costs_the_same_on_every_page_and_in_every_file(reader):
    figures, held = Figures(), stock_on(timezone.localdate())
    by_material = {str(one.material): one.amount for one in held if one.material}
    stock = page_tables(reader, "/stock/")
    for row in stock["On hand"][1:-1]:
        # The stock page is rounded as one table, so that it adds up; the report rounds each line by itself.
        figures.add((row[0], "on the page"), row[-1], by_material[row[0]].cost_micro, "/stock/")
    own = {metal.alloy: metal for metal in metal_on_hand()[0]}
    for row in stock["The studio's own"][1:-1]:
        figures.add((row[0], "fine"), row[-2], own[row[0]].fine_ug, "/stock/", MILLIGRAM_UG)
        figures.add((row[0], "on the page"), row[-1], own[row[0]].cost_micro, "/stock/")
    whole_micro = sum(one.amount.cost_micro for one in held)
    reports = ("/reports/stock-value/?", f"/reports/metal-loss/?{EVER}")
    for address in reports:
        for where, tables in ((address, page_tables(reader, address)), *file_tables(reader, address)):
            for row in tables.get("Each by itself", ())[1:-1]:
                if row[0] in by_material:
                    figures.add((row[0], "cost"), row[-1], by_material[row[0]].cost_micro, where)
                    figures.add(
                        (row[0], "all fine"), row[-2], by_material[row[0]].fine_ug, where, MILLIGRAM_UG
                    )
            for caption in {"Each by itself", "By what it is"} & tables.keys():
                figures.add(("stock",), tables[caption][-1][-1], whole_micro, where)
            for alloy, metal in own.items():
                add_metal(alloy, metal, tables.get(f"{alloy}: where it is", ()), where)


def add_metal(alloy, metal, table, where):
    """What is in lots at the end, by the account of the metal: by its sorts, together within a penny for each."""
    sorts = [row for row in table[1:] if row[0].startswith("Here at the end, in lots")]
    for column, exact, unit in ((-1, metal.cost_micro, PENNY), (-2, metal.fine_ug, MILLIGRAM_UG)):
        if sorts and exact:
            printed = sum(read_amount(row[column]) for row in sorts)
            assert abs(printed - exact) < unit * len(sorts), (alloy, where)
