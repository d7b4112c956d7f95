"""What came, and what it cost, or will have cost, to have it here."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.landed import LandedLine, OnTop, explain_landed_cost
from inventory.filters import DeliveryFilter
from inventory.forms.buying import (
    ArrivalForm,
    DeliveryForm,
    DeliveryRows,
    DeliverySheet,
    LateBillForm,
    MendedBillForm,
    read_lines,
    readable_lines,
)
from inventory.forms.sheet import Sheet
from inventory.models import Delivery, Material
from inventory.posting.buying import post_delivery, post_late_bill, post_mended_bill, spread_charges
from inventory.posting.refusal import Refused
from inventory.queries.buying import (
    deliveries,
    late_bills,
    materials_to_choose,
    on_top_of,
    received_lots,
)
from inventory.queries.landed import landed_rows
from inventory.queries.orders import open_orders
from inventory.tables.stock import DeliveryTable, PreviewTable, ReceivedTable
from studio.kit.listing import ListingView
from studio.kit.rows import RowsFormSet
from studio.kit.tables import lay_out
from studio.kit.working import Working

from .saving import answer, sent, show, signed_in_user

_FIGURES = ("quantity", "unit", "price_micro", "share_micro", "landed_micro", "rate_text")
_ORDERS_OFFERED = 5
_BILLS_A_PAGE = 12


class DeliveryList(ListingView):
    title = "Deliveries"
    lead = "What came, and what it cost with carriage, duty and tax."
    table_class = DeliveryTable
    filterset_class = DeliveryFilter
    press = ("Enter a delivery", "inventory:delivery-new")

    def get_queryset(self) -> "QuerySet[Delivery]":
        return deliveries()


@require_http_methods(["GET", "HEAD", "POST"])
def enter_delivery(request: HttpRequest) -> HttpResponse:
    materials, data = materials_to_choose(), sent(request)
    form, lines = _read(data, materials)
    sheet = DeliverySheet(form, lines=lines)
    done = answer(sheet, lambda: _post_delivery(request, form, lines))
    if done is not None:
        return done
    context: dict[str, Any] = {
        "has_materials": bool(materials),
        "section": "buying",
        "open_orders": open_orders()[:_ORDERS_OFFERED],
    }
    if data is not None:
        context["ahead"] = look_ahead(*_read(data, materials))
    return show(request, "buying/delivery_new.html", sheet, context)


def _read(data: Any, materials: list[Material]) -> tuple[DeliveryForm, Any]:
    return DeliveryForm(data), DeliveryRows(data, prefix="lines", form_kwargs={"materials": materials})


def _post_delivery(request: HttpRequest, form: DeliveryForm, lines: Any) -> str:
    cleaned = form.cleaned_data
    delivery = post_delivery(
        form.find_one(),
        cleaned["day"],
        read_lines(lines, cleaned["day"]),
        form.charges,
        reference=cleaned["reference"],
        by=signed_in_user(request),
    )
    messages.success(request, "The delivery is in stock.")
    return reverse("inventory:delivery-detail", args=[delivery.pk])


@require_POST
def show_delivery_ahead(request: HttpRequest) -> HttpResponse:
    """What each line will have cost, from what is typed so far. Nothing is saved."""
    ahead = look_ahead(*_read(request.POST, materials_to_choose()))
    return render(request, "buying/ahead.html", {"ahead": ahead})


@require_http_methods(["GET", "HEAD", "POST"])
def show_delivery(request: HttpRequest, pk: int) -> HttpResponse:
    """A delivery and the sums behind its lots; a POST adds a bill that came later."""
    delivery = get_object_or_404(deliveries(), pk=pk)
    form = LateBillForm(sent(request))
    sheet = Sheet(form)
    done = answer(sheet, lambda: _post_late_bill(request, delivery, form))
    if done is not None:
        return done
    bills = list(late_bills(delivery))
    received = received_lots(delivery)
    names = ("price", "share", "late", "landed")
    totals = {name: sum(getattr(one.line, f"{name}_micro") for one in received) for name in names}
    table = lay_out(ReceivedTable(received, totals=totals), request)
    on_top = on_top_of(delivery)
    context = {
        "delivery": delivery,
        "table": table,
        "workings": [
            explain_landed_cost(
                row.record.line, on_top, f"Lot {row.record.lot.pk}, {row.record.lot.material}"
            )
            for row in table.paginated_rows
        ],
        "bills": Paginator(bills, _BILLS_A_PAGE).get_page(request.GET.get("bills")),
        "bills_micro": sum(bill.amount_micro for bill in bills),
        "bill_form": None if delivery.void else form,
        "section": "buying",
    }
    return show(request, "buying/delivery.html", sheet, context)


def _post_late_bill(request: HttpRequest, delivery: Delivery, form: LateBillForm) -> str:
    cleaned = form.cleaned_data
    post_late_bill(delivery, cleaned["amount"], cleaned["day"], cleaned["note"], signed_in_user(request))
    messages.success(request, "The bill is written down with this delivery.")
    return reverse("inventory:delivery-detail", args=[delivery.pk])


@dataclass(frozen=True)
class Ahead:
    """`sentence` says why there is nothing to show, or what is not in the figures yet."""

    table: PreviewTable | None = None
    workings: tuple[Working, ...] = ()
    sentence: str = ""


def look_ahead(form: ArrivalForm, rows: RowsFormSet) -> Ahead:
    """The landed cost of every line that can be read so far, by the same sharing as the posting."""
    form.full_clean()
    numbers, lines = [], []
    for number, line in readable_lines(rows, None):
        numbers.append(number)
        lines.append(line)
    if not lines:
        return Ahead(
            sentence="Write a material, how much, and its price, and its cost with carriage stands here."
        )
    charges = form.charges
    try:
        shares = spread_charges(lines, charges)
    except Refused as refusal:
        return Ahead(sentence=refusal.sentence)
    by_mass = charges.spread_by == Delivery.SpreadBy.MASS
    on_top = OnTop(charges.carriage_micro, charges.duty_micro, charges.tax_micro, by_mass)
    weights = [line.quantity if by_mass else line.price_micro for line in lines]
    landed = [
        LandedLine(
            quantity=line.quantity,
            unit=line.material.unit,
            price_micro=line.price_micro,
            share_micro=share,
            weight=weight,
            weights=sum(weights),
        )
        for line, share, weight in zip(lines, shares, weights, strict=True)
    ]
    records = [
        {"line": number, "material": str(line.material), **{name: getattr(one, name) for name in _FIGURES}}
        for number, line, one in zip(numbers, lines, landed, strict=True)
    ]
    totals = {
        "price": sum(one.price_micro for one in landed),
        "share": sum(one.share_micro for one in landed),
        "landed": sum(one.landed_micro for one in landed),
    }
    workings = tuple(
        explain_landed_cost(one, on_top, f"Line {number}, {line.material}")
        for number, line, one in zip(numbers, lines, landed, strict=True)
    )
    left_out = sum(1 for row in rows.forms if row.has_changed() and not row.is_removed) - len(lines)
    lines_are = (
        "One line cannot be read yet and is"
        if left_out == 1
        else f"{left_out} lines cannot be read yet and are"
    )
    sentence = f"{lines_are} not counted here." if left_out else ""
    return Ahead(PreviewTable(records, totals=totals, orderable=False), workings, sentence)


@require_http_methods(["GET", "HEAD", "POST"])
def mend_bill(request: HttpRequest, pk: int) -> HttpResponse:
    """Prices and charges of a delivery, filled with what the studio holds for true."""
    delivery = get_object_or_404(deliveries(), pk=pk)
    rows = landed_rows(delivery)
    form = MendedBillForm(sent(request), rows)
    sheet = Sheet(form)

    def save() -> str:
        cleaned, by = form.cleaned_data, signed_in_user(request)
        prices = form.prices_micro()
        post_mended_bill(delivery, prices, cleaned["charges"], cleaned["day"], cleaned["note"], by)
        messages.success(request, "The prices are mended.")
        return reverse("inventory:delivery-detail", args=[pk])

    context = {"delivery": delivery, "section": "buying"}
    return answer(sheet, save) or show(request, "buying/bill.html", sheet, context)
