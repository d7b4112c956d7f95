"""Sales, what is out to be sold, money paid back, and bills."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.forms.sales import (
    MOST_PIECES,
    BillForm,
    ChooseForm,
    DayButtonForm,
    Numbers,
    PiecesForm,
    RefundForm,
    SellForm,
    SendOutForm,
    StrikeOutForm,
    of_numbers,
    read_numbers,
)
from costing.models import Outing, Refund, Sale, SaleLine
from costing.posting.sales import (
    SaleFacts,
    bring_back,
    mark_paid,
    post_refund,
    post_sold,
    send_out,
    strike_out_bill,
    take_out_refund,
    terms_of,
    write_bill,
)
from costing.queries.asked import asked_or_offered
from costing.queries.sales import (
    SoldLine,
    add_paid_back,
    bills,
    counted_lines,
    find_line,
    find_refund,
    is_all_back,
    left_without_price,
    money_of,
    outings,
    paid_back_since,
    pieces_to_offer,
    refunds_of,
    sales,
    sales_owed,
    still_out,
)
from costing.tables.sales import BillTable, OutingTable, SaleTable
from inventory.filters import WordsOnlyFilter
from inventory.forms.sheet import Sheet
from inventory.models import Piece
from inventory.posting.refusal import Refused
from inventory.views.saving import ButtonForm, answer, answer_record, sent, show, signed_in_user
from studio.kit.listing import ListingView
from studio.kit.models import only_one
from studio.kit.printing import print_money
from studio.kit.views import or_404

Methods = require_http_methods(["GET", "HEAD", "POST"])
_SECTION = {"section": "pieces"}
_MOST_TOLD = 10
#: Title, button, and what is said where there is no piece to tick.
_NONE_HERE = "No piece that is here to sell fits this."
_WITHOUT_PRICE = ("Sold without a price", "Save", "Each piece that fits this and went has its price.")


class SaleList(ListingView):
    title = "Sales"
    lead = "What was sold, for how much, and what is left of it after tax and fees."
    table_class = SaleTable
    filterset_class = WordsOnlyFilter
    press: tuple[str, str] | None = ("Sell pieces", "costing:sell")
    ways: tuple[tuple[str, str], ...] = (
        ("Fairs and galleries", "costing:outing-list"),
        ("Owed to you", "costing:sales-owed"),
        ("Sold without a price", "costing:sell-gone"),
        ("Bills", "costing:bill-list"),
        ("How you sell", "costing:sales-practice"),
    )

    def get_queryset(self) -> Any:
        return sales()


class OwedList(SaleList):
    title = "Owed to you"
    lead = "Sales of which somebody else took the money. Open one when it was paid over."
    press = None
    ways = (("All sales", "costing:sale-list"),)

    def get_queryset(self) -> Any:
        return sales_owed()


class OutingList(ListingView):
    title = "Fairs and galleries"
    lead = "Pieces that are out to be sold. They stay yours until they are."
    table_class = OutingTable
    filterset_class = WordsOnlyFilter
    press = ("Take pieces out", "costing:send-out")

    def get_queryset(self) -> Any:
        return outings()


class BillList(ListingView):
    title = "Bills"
    lead = "By their number: none is left out."
    table_class = BillTable

    def get_queryset(self) -> Any:
        return bills()


def _offered(request: HttpRequest, pieces: Any) -> tuple[ChooseForm, list[Piece]]:
    """The pieces that the address asks for; of a page that was sent in, those that it had."""
    choose = ChooseForm(request.GET)
    if request.method == "POST":
        return choose, list(pieces.filter(pk__in=PiecesForm.keys_in(request.POST)))
    words = choose.cleaned_data["q"] if choose.is_valid() else ""
    if words:
        numbers = read_numbers(words)
        pieces = pieces.filter(of_numbers(numbers) if numbers else Q(name__icontains=words))
    return choose, list(pieces[:MOST_PIECES])


def _post(request: HttpRequest, form: SellForm, channel: Any) -> Sale | None:
    found, sold = form.cleaned_data, form.sold()
    if not sold:
        return None
    facts = SaleFacts(
        channel=channel,
        day=found["day"],
        buyer=found["buyer"] or "",
        note=found["note"] or "",
        outing=form.outing,
        is_owed=found["is_owed"],
    )
    terms = terms_of(channel, found["day"])
    sale = post_sold(facts, sold, replace(terms, **form.change_terms(terms)), signed_in_user(request))
    messages.success(request, f"{len(sold)} sold.")
    return sale


@Methods
def sell(request: HttpRequest, gone: bool = False) -> HttpResponse:
    """Tick what was sold, with its price; with `gone`, the price of what left without one."""
    choose, pieces = _offered(request, left_without_price() if gone else pieces_to_offer())
    form = SellForm(sent(request), pieces, asked_or_offered(pieces))
    sheet = Sheet(form)

    def save() -> str:
        sale = _post(request, form, form.cleaned_data["channel"])
        return reverse("costing:sale", args=[sale.pk]) if sale else request.path

    words = _WITHOUT_PRICE if gone else ("Sell pieces", "They are sold", _NONE_HERE)
    context = {"choose": choose, "words": words, "most": MOST_PIECES, **_SECTION}
    return answer(sheet, save) or show(request, "costing/sales/sell.html", sheet, context)


@Methods
def take_out(request: HttpRequest) -> HttpResponse:
    """Tick what goes out to a fair or a gallery."""
    choose, pieces = _offered(request, pieces_to_offer())
    form = SendOutForm(sent(request), pieces, asked_or_offered(pieces))
    sheet = Sheet(form)

    def save() -> str:
        rows = dict(form.taken())
        numbers = form.cleaned_data["numbers"]
        if numbers:
            named = list(pieces_to_offer().filter(of_numbers(numbers))[: MOST_PIECES + 1])
            _refuse_unknown(numbers, named)
            asked = asked_or_offered(named)
            rows |= {piece: asked.get(piece.pk) for piece in named if piece not in rows}
        outing = form.outing()
        outing.recorded_by = signed_in_user(request)
        send_out(outing, list(rows.items()))
        stayed = _say_stayed(numbers, rows)
        messages.success(request, f"{len(rows)} went out.{stayed}")
        return reverse("costing:outing", args=[outing.pk])

    context = {
        "choose": choose,
        "words": ("Take pieces out", "They are out", _NONE_HERE),
        "most": MOST_PIECES,
        **_SECTION,
    }
    return answer(sheet, save) or show(request, "costing/sales/sell.html", sheet, context)


def _refuse_unknown(numbers: Sequence[Numbers], named: Sequence[Piece]) -> None:
    """Raise Refused, beside the field, for numbers that name no piece that could go out, and for too many."""
    if len(named) > MOST_PIECES:
        raise Refused(f"These are more than {MOST_PIECES} pieces. Take them out a part at a time.", "numbers")
    unknown = [one.text for one in numbers if not any(one.names(piece) for piece in named)]
    if unknown:
        raise Refused(
            f"No piece that is here and not out already has the number {' or '.join(unknown)}.", "numbers"
        )


def _say_stayed(numbers: Sequence[Numbers], out: Iterable[Piece]) -> str:
    """Which numbers within what was written went nowhere, because nothing of them is here; "" where none."""
    went = {(piece.cast.number, piece.number) for piece in out}
    stayed = [
        f"{one.cast}.{number}"
        for one in numbers
        for number in range(one.first, min(one.last, one.first + MOST_PIECES) + 1)
        if (one.cast, number) not in went
    ]
    if not stayed:
        return ""
    more = " and others" if len(stayed) > _MOST_TOLD else ""
    return f" Not here, and so not out: {', '.join(stayed[:_MOST_TOLD])}{more}."


@Methods
def show_outing(request: HttpRequest, pk: int) -> HttpResponse:
    """What is out of it: tick what was sold, and at its end all the rest comes back."""
    outing: Outing = or_404(only_one(outings().filter(pk=pk)), "There is no such fair or gallery.")
    rows = list(still_out().filter(outing=outing)[:MOST_PIECES])
    if request.method == "POST":
        keys = PiecesForm.keys_in(request.POST)
        rows = [row for row in rows if row.piece_id in keys]
    pieces = [row.piece for row in rows]
    asked = asked_or_offered(pieces) | {
        row.piece_id: row.price_micro for row in rows if row.price_micro is not None
    }
    form = SellForm(sent(request), pieces, asked, outing)
    sheet = Sheet(form)

    def save() -> str:
        sale = _post(request, form, outing.channel)
        if form.cleaned_data["rest_back"]:
            count = bring_back(outing, None, form.cleaned_data["day"])
            if count:
                messages.success(request, f"{count} came back.")
        return reverse("costing:sale", args=[sale.pk]) if sale else request.path

    context = {"outing": outing, "sold": sales().filter(outing=outing), **_SECTION}
    return answer(sheet, save) or show(request, "costing/sales/outing.html", sheet, context)


@Methods
def come_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Some pieces of an outing are here again."""
    outing: Outing = or_404(only_one(outings().filter(pk=pk)), "There is no such fair or gallery.")
    pieces = [row.piece for row in still_out().filter(outing=outing)[:MOST_PIECES]]
    data = sent(request)
    keys = [piece.pk for piece in pieces if data and f"take_{piece.pk}" in data]
    form = DayButtonForm(data)
    sheet = Sheet(form)

    def save() -> str:
        if not keys:
            raise Refused("Tick at least one piece that came back.")
        count = bring_back(outing, keys, form.cleaned_data["day"])
        messages.success(request, f"{count} came back.")
        return reverse("costing:outing", args=[pk])

    context = {"outing": outing, "pieces": pieces, "keys": keys, **_SECTION}
    return answer(sheet, save) or show(request, "costing/sales/come_back.html", sheet, context)


@Methods
def show_sale(request: HttpRequest, pk: int) -> HttpResponse:
    """A sale with its pieces; what is owed of it is paid over here."""
    sale = or_404(only_one(sales().filter(pk=pk)), "There is no such sale, or all of it was taken back.")
    lines = list(counted_lines().filter(sale=sale).order_by("pk"))
    refunds = refunds_of([line.pk for line in lines])
    form = DayButtonForm(sent(request))
    sheet = Sheet(form)

    def save() -> str:
        mark_paid(sale, form.cleaned_data["day"])
        messages.success(request, "It is paid over.")
        return request.path

    context = {
        "sale": sale,
        "lines": [SoldLine(line, refunds.get(line.pk, [])) for line in lines],
        "bills": [
            (bill, paid_back_since(bill, lines, [one for rows in refunds.values() for one in rows]))
            for bill in bills().filter(sale=sale)
        ],
        **_work_sale(sale, lines, refunds),
        **_SECTION,
    }
    return answer(sheet, save) or show(request, "costing/sales/sale.html", sheet, context)


def _work_sale(sale: Sale, lines: list[SaleLine], refunds: dict[int, list[Refund]]) -> dict[str, Any]:
    """How what is left, of the whole and of each piece, and what is owed came about."""
    money = money_of(sale, lines)
    back = add_paid_back(refund for rows in refunds.values() for refund in rows)
    pieces = [
        replace(money, lines=(one,)).work(
            f"What {line.piece} leaves", add_paid_back(refunds.get(line.pk, []))
        )
        for line, one in zip(lines, money.lines, strict=True)
    ]
    whole = money.work("What the sale leaves", back)
    return {"workings": [whole, *pieces] if len(pieces) > 1 else [whole], "owed": money.work_owed(back)}


@Methods
def pay_back(request: HttpRequest, pk: int) -> HttpResponse:
    """A piece comes back, or some of its money goes."""
    line = or_404(find_line(pk), "There is no such sale, or it was taken back.")
    address = reverse("costing:sale", args=[line.sale_id])
    before = refunds_of([line.pk]).get(line.pk, [])
    if request.method != "POST" and is_all_back(line, before):
        messages.info(request, f"{line.piece} came back already, and all of it was paid back.")
        return redirect(address)
    form = RefundForm(sent(request), line, before)

    def save() -> str:
        refund = post_refund(line, form.back(), signed_in_user(request))
        back = "The piece is here again. " if refund.entry_id else ""
        messages.success(request, f"{back}{print_money(refund.amount_micro)} was paid back.")
        return address

    return answer_record(
        request, form, save, f"{line.piece} comes back", (address, str(line.sale)), **_SECTION
    )


@Methods
def bill_sale(request: HttpRequest, pk: int) -> HttpResponse:
    """A bill for a sale, under the next number of its year."""
    sale = or_404(only_one(sales().filter(pk=pk)), "There is no such sale, or all of it was taken back.")
    address = reverse("costing:sale", args=[pk])
    form = BillForm(sent(request), initial={"buyer": sale.buyer})

    def save() -> str:
        found = form.cleaned_data
        bill = write_bill(sale, found["buyer"], found["address"] or "", found["day"])
        messages.success(request, f"{bill} is written.")
        return address

    return answer_record(
        request, form, save, f"A bill for sale {pk}", (address, str(sale)), "Write the bill", **_SECTION
    )


@Methods
def strike_out(request: HttpRequest, pk: int) -> HttpResponse:
    """A bill that was wrong: it keeps its number and says why it does not count."""
    bill = or_404(only_one(bills().filter(pk=pk, struck_out_on=None)), "There is no such bill that counts.")
    address = reverse("costing:sale", args=[bill.sale_id])
    form = StrikeOutForm(sent(request))

    def save() -> str:
        strike_out_bill(bill, form.cleaned_data["day"], form.cleaned_data["why"])
        messages.success(request, f"{bill} is struck out. Another can be written for the sale.")
        return address

    title = f"Strike out {str(bill).lower()}"
    return answer_record(
        request, form, save, title, (address, f"Sale {bill.sale_id}"), "Strike it out", **_SECTION
    )


@Methods
def take_out_paid_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Money that was not paid back after all; where the piece came with it, its return is taken back in the book."""
    refund = or_404(find_refund(pk), "There is no such payment back, or it was taken out.")
    if refund.returned_by is not None:
        return redirect("inventory:entry-reverse", refund.returned_by)
    address = reverse("costing:sale", args=[refund.line.sale_id])
    form = ButtonForm(sent(request))

    def save() -> str:
        take_out_refund(refund)
        messages.success(request, f"{print_money(refund.amount_micro)} was not paid back.")
        return address

    title = f"{print_money(refund.amount_micro)} for {refund.line.piece} was not paid back"
    return answer_record(
        request, form, save, title, (address, str(refund.line.sale)), "Take it out", **_SECTION
    )
