"""Quotes: their list, and one with its price, the range of its cost, its flasks, what to buy, and its plans."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from costing.forms.quotes import QuoteForm, QuotePlanForm, QuoteSheet, draft_flasks
from costing.models import Quote
from costing.posting.quotes import keep_prices, make_plans, write_lines
from costing.queries.quotes import QuoteFigures, find_quote, quotes, read_figures
from costing.reports.quote import list_workings, say_quote_tax, say_range, table_costs, table_offer
from costing.tables.quotes import QuoteTable
from inventory.filters import WordsInUseFilter
from inventory.forms.sheet import Sheet
from inventory.posting.refusal import Refused
from inventory.queries.casting_choices import read_plan_choices
from inventory.queries.needs import usual_sprues_pct100, work_needs
from inventory.queries.plans import PlanDraft
from inventory.queries.studio import studio_of
from inventory.views.records import RecordPages
from inventory.views.saving import alone, answer, sent, show
from studio.kit.printing import print_day
from studio.kit.report_page import lay_table
from studio.kit.views import or_404

from .reports import file_links


class Quotes(RecordPages):
    app, name, folder, edit_path = "costing", "quote", "pieces/quotes/", "<whole:pk>/edit/"
    model, form_class, table_class = Quote, QuoteForm, QuoteTable
    filterset_class = WordsInUseFilter
    title = "Quotes"
    lead = "What somebody asked for: what it will cost, what to buy, and what to ask."
    press = ("Write a quote", "costing:quote-new")
    ways = (("Designs", "inventory:design-list"),)
    new_title = "A new quote"
    record_template = "costing/quote_edit.html"

    def get_queryset(self) -> Any:
        return quotes()

    def make_sheet(self, data: Any, record: Quote | None) -> QuoteSheet:
        return QuoteSheet(data, record)

    def save(self, sheet: Any) -> Quote:
        quote: Quote = sheet.form.save()
        write_lines(quote, sheet.lines())
        return quote

    def find_way_back(self, record: Quote | None) -> tuple[str, str]:
        if record is not None:
            return reverse("costing:quote-detail", args=[record.pk]), str(record)
        return super().find_way_back(record)

    def find_way_on(self, record: Quote) -> str:
        return reverse("costing:quote-detail", args=[record.pk])


def find_or_404(pk: int) -> Quote:
    return or_404(find_quote(pk), "There is no such quote.")


@require_http_methods(["GET", "HEAD", "POST"])
def show_quote(request: HttpRequest, pk: int) -> HttpResponse:
    """A quote. A POST makes plans of it."""
    quote = find_or_404(pk)
    figures = read_figures(quote, studio_of(request))
    form = QuotePlanForm(sent(request), read_plan_choices(for_tree=False), figures)
    sheet = Sheet(form)
    done = answer(sheet, lambda: _plan(request, quote, form))
    if done is not None:
        return done
    usual = QuotePlanForm(None, form.choices, figures)
    drafts = draft_flasks(figures, usual, usual.usual(), usual_sprues_pct100())
    made = [plan for plan in quote.plans.all() if not plan.dropped]
    context = {
        "quote": quote,
        "figures": figures,
        "said": say_range(figures),
        "offer": lay_table(table_offer(figures)),
        "costs": lay_table(table_costs(figures)),
        "tax": say_quote_tax(figures),
        "total": figures.add_up("told_micro"),
        "workings": list_workings(figures),
        "needs": work_needs(drafts, studio_of(request), form.choices.practice, made) if drafts else None,
        "plans": made,
        "firings": say_firings(drafts) if drafts else "",
        "gaps": list_gaps(figures, drafts),
        "files": [
            *file_links("quote", {"quote": str(pk)})[:1],
            *file_links("quote-cost", {"quote": str(pk)})[:1],
        ],
        "can_keep": any(row.kept and not row.line.price_micro for row in figures.rows),
        "section": "pieces",
    }
    return show(request, "costing/quote.html", sheet, context)


def list_gaps(figures: QuoteFigures, drafts: list[PlanDraft]) -> list[tuple[str, str]]:
    """What stands between a quote and its plans, and where it is written down."""
    patterns = [
        (
            f"what a pattern of {row.design} is made of and weighs",
            reverse("inventory:design-edit", args=[row.design.pk]),
        )
        for row in figures.rows
        if row.costed is None or row.design.pattern_material is None or not row.costed.learnt.pattern_mg
    ]
    if patterns or drafts:
        return patterns
    return [("a flask, a powder, a kiln and a schedule for it", reverse("inventory:setup"))]


def _plan(request: HttpRequest, quote: Quote, form: QuotePlanForm) -> str:
    figures = read_figures(quote)
    drafts = draft_flasks(figures, form, form.cleaned_data, usual_sprues_pct100())
    if not drafts:
        raise Refused(
            "Some design's pattern is not known yet: write down what it is made of and weighs first."
        )
    made = make_plans(quote, drafts, studio_of(request))
    flasks = "1 flask is" if len(made) == 1 else f"{len(made)} flasks are"
    said = f"{flasks} planned, {say_firings(drafts)}."
    messages.success(request, said)
    return reverse("costing:quote-detail", args=[quote.pk])


def say_firings(drafts: list[PlanDraft]) -> str:
    """ "in 2 firings, the first on Tue 1 Dec 2026, as a flask stands in each of them once" """
    firings = sorted({draft.day.wish_at for draft in drafts})
    if len(firings) == 1:
        return "in one firing"
    first = print_day(timezone.localdate(firings[0]), with_year=True)
    return f"in {len(firings)} firings, the first on {first}, as a flask stands in each of them once"


@require_POST
@alone
def keep(request: HttpRequest, pk: int) -> HttpResponse:
    """Offer what the rules say now, whatever they say later."""
    figures = read_figures(find_or_404(pk))
    prices = {row.line.pk: row.kept.told_micro for row in figures.rows if row.kept}
    keep_prices(prices)
    messages.success(request, "These prices are offered from now on.")
    return redirect("costing:quote-detail", pk)
