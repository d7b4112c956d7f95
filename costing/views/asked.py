"""What is asked: for one piece, for a list of them, and for those that fell under their floor when metal moved."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.forms.asked import AskForm, AskListForm
from costing.models import AskedPrice
from costing.posting.prices import ask_prices
from costing.queries.asked import asked_history, newest_asked, pieces_to_sell
from costing.queries.pricing import read_price_book
from costing.queries.quotes import offers_under
from costing.reports.asked_list import AskRow, read_rows, rows_of, rows_under
from inventory.forms.sheet import Sheet
from inventory.models import Piece
from inventory.posting.refusal import Refused
from inventory.queries.pieces import HERE, find_piece
from inventory.queries.studio import current_studio
from inventory.views.labels import LABEL_PRICES
from inventory.views.saving import answer, sent, show, signed_in_user
from studio.kit.ordering import PAGE_ROWS, Paged, change_query, choose_page
from studio.kit.printing import print_money
from studio.kit.views import or_404

_PRICE_NAME = re.compile(r"price_([0-9]{1,18})")
_GONE = "One of these pieces is not here any more. Open the page again."


def tell_prices(pieces: Sequence[Piece]) -> Mapping[int, str]:
    """What is asked for each of these pieces, as it stands on a tag."""
    currency = current_studio().currency
    asked = newest_asked([piece.pk for piece in pieces])
    return {key: f"{print_money(one.price_micro)} {currency}".strip() for key, one in asked.items()}


LABEL_PRICES["piece"] = tell_prices


class AskPage(Paged):
    """One page of rows, in the words of the kit's pager."""

    caption = "pieces"

    def __init__(self, rows: Any, query: QueryDict) -> None:
        self.paginator = Paginator(rows, PAGE_ROWS)
        self.query, self.page = query, choose_page(self.paginator, query.get("page", "1"))

    def page_address(self, number: int) -> str:
        return change_query(self.query, page=str(number))


@require_http_methods(["GET", "HEAD", "POST"])
def list_asked(request: HttpRequest) -> HttpResponse:
    """Every piece that is here to sell, or those that nothing is asked for."""
    pieces = pieces_to_sell()
    if request.GET.get("show") == "none":
        pieces = pieces.filter(asked_prices__isnull=True)
    page = AskPage(pieces, request.GET)
    return _answer(request, page, "all", lambda: read_rows(list(pieces)))


@require_http_methods(["GET", "HEAD", "POST"])
def list_under(request: HttpRequest) -> HttpResponse:
    """The pieces whose price fell under its floor, with new prices to accept."""
    return _answer(request, AskPage(rows_under(), request.GET), "under", rows_under)


def _answer(request: HttpRequest, page: AskPage, which: str, read_all: Any) -> HttpResponse:
    data = sent(request)
    rows = rows_of(_keys_of(data)) if data else _rows_on(page)
    form = AskListForm(data, {row.piece.pk: row.suggested_micro for row in rows})
    sheet = Sheet(form)

    def save() -> str:
        prices = form.prices()
        here = {row.piece.pk: row for row in (read_all() if form.is_for_all else rows_of(prices))}
        if not set(prices) <= set(here):
            raise Refused(_GONE)
        if form.is_for_all:
            said = {key: row.suggested_micro for key, row in here.items()}
            prices = {key: price for key, price in said.items() if price is not None} | prices
        pieces = {here[key].piece: price for key, price in prices.items()}
        found = form.cleaned_data
        asked = ask_prices(pieces, found["day"], found["reason"], signed_in_user(request))
        _tell(request, asked, len(pieces))
        return request.get_full_path()

    context = {
        "which": which,
        "rows": [(row, form[f"take_{row.piece.pk}"], form[f"price_{row.piece.pk}"]) for row in rows],
        "pager": page,
        "count": page.paginator.count,
        "offers": offers_under() if which == "under" else [],
        "none_shown": request.GET.get("show") == "none",
        "book": rows[0].prices.book if rows else read_price_book([]),
        "section": "pieces",
    }
    old = {row.prices.old_words: bool(row.prices.price and row.prices.price.metal) for row in rows}
    context["old"] = sorted((words, is_pure) for words, is_pure in old.items() if words)
    return answer(sheet, save) or show(request, "costing/asked_list.html", sheet, context)


def _rows_on(page: AskPage) -> list[AskRow]:
    shown = list(page.page)
    if shown and isinstance(shown[0], Piece):
        return read_rows(shown)
    return shown


def _keys_of(data: QueryDict) -> list[int]:
    """The pieces that a page which was sent in had a price field for."""
    found = [int(match[1]) for name in data if (match := _PRICE_NAME.fullmatch(name))]
    return found[:PAGE_ROWS]


def _tell(request: HttpRequest, asked: Sequence[AskedPrice], wanted: int) -> None:
    count = "1 price is" if len(asked) == 1 else f"{len(asked)} prices are"
    same = wanted - len(asked)
    more = f" {same} {'was' if same == 1 else 'were'} asked already." if same else ""
    messages.success(request, f"{count} asked now.{more}")


@require_http_methods(["GET", "HEAD", "POST"])
def ask_for_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """What is asked for one piece, beside what the rules say now, and all that ever was asked for it."""
    piece = or_404(find_piece(pk), "There is no such piece.")
    address = reverse("inventory:piece-detail", args=[pk])
    if piece.state not in HERE or not piece.cast.is_closed:
        messages.warning(request, f"{piece.name} is not here to sell: nothing is asked for it.")
        return redirect(address)
    row = next(iter(read_rows([piece])), None)
    asked = newest_asked([pk]).get(pk)
    first = asked.price_micro if asked else row.suggested_micro if row else None
    sheet = Sheet(AskForm(sent(request), initial={"price": first}))

    def save() -> str:
        found, now = sheet.form.cleaned_data, find_piece(pk)
        if now is None or now.state not in HERE:
            raise Refused(_GONE)
        ask_prices({now: found["price"]}, found["day"], found["reason"], signed_in_user(request))
        messages.success(request, f"{print_money(found['price'])} is asked for {now.name}.")
        return address

    context = {"piece": piece, "row": row, "history": asked_history(piece)[:PAGE_ROWS], "section": "pieces"}
    return answer(sheet, save) or show(request, "costing/piece_asked.html", sheet, context)
