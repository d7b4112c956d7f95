"""What is asked: for one piece or design, for a list of them, and for what fell under its floor when metal moved."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.forms.asked import AskForm, AskListForm
from costing.models import QuoteLine
from costing.posting.prices import ask_prices
from costing.posting.quotes import keep_prices
from costing.queries.asked import asked_history, designs_to_price, newest_asked, pieces_to_sell
from costing.queries.designs import find_designs
from costing.queries.pricing import read_price_book
from costing.reports.asked_list import (
    KEY,
    AskRow,
    Thing,
    read_offers,
    read_rows,
    read_theirs,
    rows_of,
    rows_under,
)
from inventory.forms.sheet import Sheet
from inventory.models import Design, Piece
from inventory.posting.refusal import Refused
from inventory.queries.pieces import HERE, find_piece
from inventory.queries.studio import current_studio, studio_of
from inventory.views.labels import LABEL_PRICES
from inventory.views.saving import answer, sent, show, signed_in_user
from studio.kit.ordering import PAGE_ROWS, Paged, change_query, choose_page
from studio.kit.printing import print_money
from studio.kit.views import or_404

_GONE = "One of these is not here any more, or is planned already. Open the page again."


def tell_prices(pieces: Sequence[Piece]) -> Mapping[int, str]:
    """What is asked for each of these pieces, as it stands on a tag."""
    currency = current_studio().currency
    asked = newest_asked([piece.pk for piece in pieces])
    return {key: f"{print_money(one.price_micro)} {currency}".strip() for key, one in asked.items()}


LABEL_PRICES["piece"] = tell_prices


class AskPage(Paged):
    """One page of rows, in the words of the kit's pager."""

    caption = "prices"

    def __init__(self, rows: Any, query: QueryDict) -> None:
        self.rows = rows
        self.paginator = Paginator(rows, PAGE_ROWS)
        self.query, self.page = query, choose_page(self.paginator, query.get("page", "1"))

    def page_address(self, number: int) -> str:
        return change_query(self.query, page=str(number))


@require_http_methods(["GET", "HEAD", "POST"])
def list_asked(request: HttpRequest) -> HttpResponse:
    """Every piece that is here to sell, or those that nothing is asked for; or every design."""
    if request.GET.get("show") == "designs":
        designs = designs_to_price()
        page = AskPage(designs, request.GET)
        return _answer(request, page, "designs", lambda: read_offers(list(designs)))
    pieces = pieces_to_sell()
    if request.GET.get("show") == "none":
        pieces = pieces.filter(asked_prices__isnull=True)
    page = AskPage(pieces, request.GET)
    return _answer(request, page, "all", lambda: read_rows(list(pieces)))


@require_http_methods(["GET", "HEAD", "POST"])
def list_under(request: HttpRequest) -> HttpResponse:
    """The pieces, designs and quotes whose price fell under its floor, with new prices to accept."""
    return _answer(request, AskPage(rows_under(), request.GET), "under", rows_under)


def _answer(request: HttpRequest, page: AskPage, which: str, read_all: Any) -> HttpResponse:
    data = sent(request)
    rows = rows_of(_keys_of(data)) if data else _rows_on(page)
    form = AskListForm(data, {row.key: row.offered_micro for row in rows})
    sheet = Sheet(form)

    def save() -> str:
        prices = form.prices()
        here = {row.key: row for row in (read_all() if form.is_for_all else rows_of(prices))}
        if not set(prices) <= set(here):
            raise Refused(_GONE)
        if form.is_for_all:
            said = {key: row.offered_micro for key, row in here.items()}
            prices = {key: price for key, price in said.items() if price is not None} | prices
        found = form.cleaned_data
        wanted = {here[key].thing: price for key, price in prices.items()}
        _tell(request, _ask(wanted, found["day"], found["reason"], signed_in_user(request)), len(wanted))
        return request.get_full_path()

    context = {
        "which": which,
        "rows": [(row, form[f"take_{row.key}"], form[f"price_{row.key}"]) for row in rows],
        "pager": page,
        "count": page.paginator.count,
        "counted": _count_things(page.rows) if which == "under" else "",
        "none_shown": request.GET.get("show") == "none",
        "book": rows[0].book if rows else read_price_book([]),
        "section": "pieces",
    }
    if which == "all" and not context["none_shown"] and page.page.number == 1:
        context["theirs"] = read_theirs(studio_of(request).penny_micro, PAGE_ROWS)
    old = {row.old_words: bool(row.prices.price and row.prices.price.metal) for row in rows}
    context["old"] = sorted((words, is_pure) for words, is_pure in old.items() if words)
    return answer(sheet, save) or show(request, "costing/asked_list.html", sheet, context)


def _rows_on(page: AskPage) -> list[AskRow]:
    shown = list(page.page)
    if shown and isinstance(shown[0], AskRow):
        return shown
    pieces = [one for one in shown if isinstance(one, Piece)]
    return read_rows(pieces) if pieces else read_offers(shown)


def _keys_of(data: QueryDict) -> list[str]:
    """What a page which was sent in had a price field for."""
    names = (name.removeprefix("price_") for name in data if name.startswith("price_"))
    return [name for name in names if KEY.fullmatch(name)][:PAGE_ROWS]


def _ask(prices: Mapping[Thing, int], day: date, reason: str, by: User) -> int:
    """Ask these prices, and offer those of quotes. Returns how many are new."""
    pieces = {thing: price for thing, price in prices.items() if isinstance(thing, Piece)}
    designs = {thing: price for thing, price in prices.items() if isinstance(thing, Design)}
    lines = {thing.pk: price for thing, price in prices.items() if isinstance(thing, QuoteLine)}
    asked = [*ask_prices(pieces, day, reason, by), *ask_prices(designs, day, reason, by)]
    return len(asked) + (keep_prices(lines) if lines else 0)


def _count_things(rows: Iterable[Any]) -> str:
    """ "2 pieces, 1 design and 3 lines of quotes" """
    things = [row.thing for row in rows]
    words = (
        (Piece, "piece", "pieces"),
        (Design, "design", "designs"),
        (QuoteLine, "quote", "lines of quotes"),
    )
    counts = [(sum(isinstance(thing, kind) for thing in things), one, many) for kind, one, many in words]
    said = [f"{count} {one if count == 1 else many}" for count, one, many in counts if count]
    return " and ".join(filter(None, (", ".join(said[:-1]), said[-1]))) if said else ""


def _tell(request: HttpRequest, changed: int, wanted: int) -> None:
    count = "1 price is" if changed == 1 else f"{changed} prices are"
    same = wanted - changed
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
    if piece.cast.owner is not None:
        priced = f"is of {piece.cast.owner}'s own metal: what casting it costs them is said with its cost"
        messages.warning(request, f"{piece.name} {priced}.")
        return redirect(address)
    row = next(iter(read_rows([piece])), None)

    def find_now() -> Piece | None:
        now = find_piece(pk)
        return now if now is not None and now.state in HERE else None

    costed = (reverse("costing:piece-cost", args=[pk]), "The piece")
    return _ask_for_one(request, piece, row, find_now, (address, *costed))


@require_http_methods(["GET", "HEAD", "POST"])
def ask_for_design(request: HttpRequest, pk: int) -> HttpResponse:
    """The same for a design: its new pieces are offered at it, in what it is usually cast in."""
    design = or_404(find_designs([pk]).get(pk), "There is no such design.")
    address = reverse("inventory:design-detail", args=[pk])
    if design.alloy is None or design.archived:
        why = (
            "is not in use any more"
            if design.archived
            else "has no metal yet: say what it is usually cast in"
        )
        messages.warning(request, f"{design.name} {why}. So nothing is asked for it.")
        return redirect(address)
    row = next(iter(read_offers([design])), None)
    costed = (reverse("costing:design-cost", args=[pk]), "The design")
    find_now = designs_to_price().filter(pk=pk).first
    return _ask_for_one(request, design, row, find_now, (address, *costed))


def _ask_for_one(
    request: HttpRequest,
    thing: Piece | Design,
    row: AskRow | None,
    find_now: Callable[[], Piece | Design | None],
    ways: tuple[str, str, str],
) -> HttpResponse:
    """`find_now` reads it again when it is saved; `ways` are its address, that of its cost, and what it is called."""
    history = asked_history(thing)
    asked = history.first()
    first = asked.price_micro if asked else row.offered_micro if row else None
    sheet = Sheet(AskForm(sent(request), initial={"price": first}))

    def save() -> str:
        found, now = sheet.form.cleaned_data, find_now()
        if now is None:
            raise Refused(_GONE)
        _ask({now: found["price"]}, found["day"], found["reason"], signed_in_user(request))
        messages.success(request, f"{print_money(found['price'])} is asked for {now.name}.")
        return ways[0]

    context: dict[str, Any] = {
        "thing": thing,
        "row": row,
        "ways": ways,
        "history": history[:PAGE_ROWS],
        "section": "pieces",
    }
    context["is_design"] = isinstance(thing, Design)
    return answer(sheet, save) or show(request, "costing/one_asked.html", sheet, context)
