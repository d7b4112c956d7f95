"""Stock counts: the sheet that is filled along the shelves, the counts there were, and what each found."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms.counting import CountSheetForm, SheetChoiceForm
from inventory.forms.sheet import Sheet
from inventory.posting.counting import post_stock_count
from inventory.queries.counting import LOTS_A_SHEET, lines_of, lots_counted, lots_to_count, stock_counts
from inventory.queries.studio import studio_of
from inventory.tables.counting import CountLineTable, CountTable
from studio.kit.listing import ListingView
from studio.kit.ordering import change_query
from studio.kit.tables import lay_out

from .saving import answer, sent, show, signed_in_user


@require_http_methods(["GET", "HEAD", "POST"])
def count_stock(request: HttpRequest) -> HttpResponse:
    """The sheet of some lots; what is counted of them is saved together."""
    choice = SheetChoiceForm(request.GET)
    asked: dict[str, Any] = choice.cleaned_data if choice.is_valid() else {}
    kept_in, is_blind = asked.get("kept_in", ""), bool(asked.get("blind"))
    page = Paginator(lots_to_count(kept_in, asked.get("kind", "")), LOTS_A_SHEET).get_page(
        request.GET.get("sheet")
    )
    data = sent(request)
    # What was sent is of the lots that the page had, whatever has become of them since.
    lots = lots_counted(CountSheetForm.keys_in(data)[:LOTS_A_SHEET]) if data else []
    lots = lots or list(page)
    sheet = Sheet(CountSheetForm(lots, studio_of(request), data, is_blind))

    def save() -> str:
        round_ = sheet.form.round(kept_in, is_blind)
        count = post_stock_count(sheet.form.found(), round_, signed_in_user(request))
        messages.success(request, "The count is kept, and the book stands at what you found.")
        return reverse("inventory:count-detail", args=[count.pk])

    context = {
        "choice": choice,
        "page": page,
        "previous_address": _turn(request, page.previous_page_number()) if page.has_previous() else "",
        "next_address": _turn(request, page.next_page_number()) if page.has_next() else "",
        "is_blind": is_blind,
        "chosen": request.GET.urlencode(),
        "section": "stock",
    }
    return answer(sheet, save) or show(request, "stock/count.html", sheet, context)


def _turn(request: HttpRequest, number: int) -> str:
    return change_query(request.GET, sheet=str(number))


class CountList(ListingView):
    title = "Stock counts"
    lead = "Each time the shelves were gone through: up to its day nothing is unexplained of the lots in it."
    press = ("Count the stock", "inventory:count")
    table_class = CountTable

    def get_queryset(self) -> Any:
        return stock_counts()


@require_safe
def show_count(request: HttpRequest, pk: int) -> HttpResponse:
    count = get_object_or_404(stock_counts(), pk=pk)
    lines = list(lines_of(count))
    table = lay_out(CountLineTable(lines), request)
    context: dict[str, Any] = {"count": count, "table": table, "section": "stock"}
    context["stood"] = sum(not line.is_back for line in lines)
    return render(request, "stock/counted.html", context)
