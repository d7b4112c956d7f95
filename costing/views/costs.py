"""What a cast and a piece cost, what a plan will cost, and plan beside fact: pages, and the parts of other pages."""

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from costing.forms.asking import AskingForm
from costing.queries.asked import newest_asked
from costing.queries.costed import cost_casts
from costing.queries.estimate import PlanEstimate, estimate_plans, facts_of
from costing.queries.policy import all_policies
from costing.queries.pricing import read_price_book
from costing.reports.cast_cost import (
    make_cast_document,
    make_cast_part,
    read_piece_work,
    read_sheet,
    read_work,
    rules_of_today,
)
from costing.reports.cost_sheet import name_rules, picture_cost, show_first
from costing.reports.piece_cost import PieceSheet, table_askings
from costing.reports.piece_price import PiecePrices, table_channels
from costing.reports.plan_cost import (
    PlanSheet,
    make_plan_document,
    say_plan_pieces,
    table_plan_lines,
    table_plan_pieces,
)
from costing.reports.plan_fact import FactSheet, cost_rows, figure_rows
from inventory.models import Piece
from inventory.queries.casting_page import find_cast
from inventory.queries.pieces import find_piece
from inventory.queries.studio import current_studio
from studio.kit.forms import list_mistakes
from studio.kit.report_page import lay_document, lay_table
from studio.kit.views import or_404

from .reports import file_links


def wants_part(request: HttpRequest) -> bool:
    """Whether only the part is wanted that the page of the cast or the piece shows."""
    return request.GET.get("part") == "1"


@require_safe
def show_cast_cost(request: HttpRequest, number: int) -> HttpResponse:
    """What a cast cost, with every line open to its working; for an open cast a sentence."""
    cast = or_404(find_cast(number), "There is no cast of this number.")
    context: dict[str, Any] = {"cast": cast, "section": "casts"}
    part = wants_part(request)
    if not cast.is_closed:
        return render(request, "costing/open_part.html" if part else "costing/open.html", context)
    studio = current_studio()
    sheet = or_404(read_sheet(number, studio), "This cast has been opened again.")
    context["work"] = read_work(sheet, request.GET)
    if part:
        cost = make_cast_part(sheet)
        context |= {"part": cost, "pieces": lay_table(cost.pieces)}
        return render(request, "costing/cast_part.html", context)
    document = make_cast_document(sheet, studio)
    files = file_links("cast-cost", {"cast": str(number)})
    whole = file_links("cast-cost", {"cast": str(number), "working": "on"})[0]
    files.append((f"{whole[0]} with the working", whole[1]))
    context |= {"document": document, "blocks": lay_document(document, request.GET), "files": files}
    return render(request, "costing/cast_cost.html", context)


@require_safe
def show_piece_cost(request: HttpRequest, pk: int) -> HttpResponse:
    """What a piece cost, and what to ask for it; the form asks for another price without keeping it."""
    piece = or_404(find_piece(pk), "There is no such piece.")
    sheet = _read_piece(piece)
    basis = sheet.prices.as_made if sheet and sheet.is_good else None
    book = sheet.prices.book if sheet else read_price_book([])
    form = AskingForm(request.GET, book.policy, basis, str(piece.cast.alloy))
    part, is_right = wants_part(request), form.is_valid()
    if sheet and is_right:
        sheet = replace(sheet, prices=replace(sheet.prices, other=form.what_if(book.today)))
    is_priced = sheet is not None and sheet.is_good and not sheet.is_theirs and is_right
    askings = sheet.askings(form.rules()) if sheet and is_priced else []
    caption = (
        "By the prices you are trying below"
        if form.is_changed
        else f"By {name_rules(book.policy, ' of today')}"
    )
    table = table_askings(askings, caption, part)
    context = {
        "piece": piece,
        "sheet": sheet,
        "form": form,
        "is_part": part,
        "mistakes": list_mistakes(form),
        "askings": askings,
        "said": sheet.say_asked(askings) if sheet else "",
        "asked": lay_table(table) if table else None,
        "channels": lay_table(table_channels(sheet.prices, "By channel")) if sheet and askings else None,
        "problems": sorted({asking.price.problem for asking in askings if asking.price.problem}),
        "section": "pieces",
    }
    return render(request, "costing/piece_part.html" if part else "costing/piece_cost.html", context)


def _read_piece(piece: Piece) -> PieceSheet | None:
    policies = all_policies()
    costed = cost_casts([piece.cast_id], policies).get(piece.cast_id)
    if costed is None:
        return None
    place, asked = costed.place_of(piece.pk), newest_asked([piece.pk]).get(piece.pk)
    studio = current_studio()
    prices = PiecePrices(costed, place, read_price_book([piece.cast.alloy], studio, policies), asked)
    is_theirs = costed.inputs.customer_metal and place in costed.inputs.good_places
    work = read_piece_work(costed, place, studio.penny_micro) if is_theirs else None
    return PieceSheet(costed, place, studio, prices, work)


@require_safe
def show_plan_cost(request: HttpRequest, pk: int) -> HttpResponse:
    """What a plan will cost, with every line open to its working."""
    estimate = _find(pk)
    sheet = PlanSheet(estimate, current_studio())
    context: dict[str, Any] = {"plan": estimate.plan, "sheet": sheet, "section": "casts"}
    if wants_part(request):
        rules = rules_of_today() if estimate.plan.owner_id is None else ()
        context |= {
            "picture": picture_cost(sheet.printed),
            "pieces": lay_table(show_first(table_plan_pieces(sheet, rules))),
            "answers": say_plan_pieces(sheet, rules),
            "lines": lay_table(table_plan_lines(sheet)),
        }
        return render(request, "costing/plan_cost_part.html", context)
    document = make_plan_document(sheet)
    context |= {"document": document, "blocks": lay_document(document, request.GET)}
    return render(request, "costing/plan_cost.html", context)


@require_safe
def show_plan_fact(request: HttpRequest, pk: int) -> HttpResponse:
    """What was planned beside what happened; for a plan that was not begun a sentence."""
    fact = or_404(facts_of([pk]).get(pk), "There is no such plan.")
    part = wants_part(request)
    context: dict[str, Any] = {"plan": fact.plan, "section": "casts"}
    if fact.cast is None:
        return render(request, "costing/unbegun_part.html" if part else "costing/unbegun.html", context)
    sheet = FactSheet(fact, current_studio())
    context |= {"sheet": sheet, "cast": fact.cast, "figures": figure_rows(sheet)}
    *context["costs"], context["whole"] = cost_rows(sheet)
    return render(request, "costing/plan_fact_part.html" if part else "costing/plan_fact.html", context)


def _find(pk: int) -> PlanEstimate:
    return or_404(estimate_plans([pk]).get(pk), "There is no such plan.")
