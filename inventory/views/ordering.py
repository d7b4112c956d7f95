"""Orders: their list, writing one down, how one stands, what can be done with it, and receiving it."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.filters import OrderFilter
from inventory.forms.buying import read_lines
from inventory.forms.ordering import ExpectForm, OrderSheet, ReceiveSheet
from inventory.forms.sheet import Sheet
from inventory.models import Order, Supplier
from inventory.posting.buying import post_delivery
from inventory.posting.ordering import (
    Receiving,
    close_order,
    expect_on,
    place_order,
    reopen_order,
    restore,
    strike_out,
    why_not_close,
    why_not_receive,
    why_not_reopen,
    why_not_restore,
    why_not_strike,
)
from inventory.posting.refusal import Refused
from inventory.queries.buying import materials_to_choose
from inventory.queries.offers import read_picked
from inventory.queries.orders import OrderNow, find_order, orders, read_order
from inventory.queries.setup import find_by_key
from inventory.reports.orders import say_carriage, table_order
from inventory.tables.ordering import OrderTable
from studio.kit.listing import ListingView
from studio.kit.printing import print_day
from studio.kit.report_page import lay_table
from studio.kit.views import or_404

from .buying import look_ahead
from .saving import Actions, answer, sent, show, signed_in_user, with_way_back


class OrderList(ListingView):
    title = "Orders"
    lead = "What was ordered, and what of it is still to come."
    table_class = OrderTable
    filterset_class = OrderFilter
    press = ("Write down an order", "inventory:order-new")
    ways = (("What to order, and where", "inventory:order-propose"), ("Offers", "inventory:offer-list"))

    def get_queryset(self) -> "QuerySet[Order]":
        return orders()


@require_http_methods(["GET", "HEAD", "POST"])
def write_order(request: HttpRequest) -> HttpResponse:
    """A new order. `?pack=12x2` fills it with two packs of offer 12, `?supplier=3` with a supplier."""
    picked = read_picked(request.GET.getlist("pack"))
    first = picked.supplier or find_by_key(Supplier, request.GET.get("supplier", ""))
    sheet = OrderSheet(sent(request), materials_to_choose(), first, picked.lines, picked.carriage_micro)

    def save() -> str:
        found = sheet.form.cleaned_data
        order = place_order(
            sheet.form.find_one(),
            sheet.ordered(),
            found["placed_on"],
            found["expected_on"],
            found["reference"],
            found["note"],
            found["carriage"],
        )
        day = print_day(order.expected_on, with_year=True)
        messages.success(request, f"{order} is written down, and expected on {day}.")
        return reverse("inventory:order-detail", args=[order.pk])

    context = {"section": "buying", "picked": picked}
    return answer(sheet, save) or show(request, "ordering/order_new.html", sheet, context)


def find_or_404(pk: int) -> OrderNow:
    return read_order(or_404(find_order(pk), "There is no such order."))


ORDER_ACTIONS: Actions[OrderNow] = Actions(
    find_or_404, lambda now: reverse("inventory:order-detail", args=[now.order.pk])
)


@ORDER_ACTIONS.add(
    "expect",
    "They say another day",
    "Expect it then",
    make=lambda now, data=None, **layout: Sheet(ExpectForm(data, now=now, **layout)),
    why_not=why_not_receive,
)
def _expect(now: OrderNow, sheet: Sheet, by: User) -> str:
    day: date = sheet.form.cleaned_data["day"]
    expect_on(now.order, day)
    return f"{now.order} is expected on {print_day(day, with_year=True)}."


@ORDER_ACTIONS.add(
    "close",
    "The rest is not coming",
    "Wait for it no longer",
    "The rest is no longer waited for. You can take that back here.",
    why_not=why_not_close,
)
def _close(now: OrderNow, sheet: Sheet, by: User) -> None:
    close_order(now.order)


@ORDER_ACTIONS.add(
    "reopen",
    "The rest is coming after all",
    "Wait for it again",
    "The rest is to come again.",
    why_not=why_not_reopen,
)
def _reopen(now: OrderNow, sheet: Sheet, by: User) -> None:
    reopen_order(now.order)


@ORDER_ACTIONS.add(
    "strike",
    "It was not ordered, or none of it is coming",
    "Strike it out",
    "The order is struck out. You can take that back here.",
    why_not=why_not_strike,
)
def _strike(now: OrderNow, sheet: Sheet, by: User) -> None:
    strike_out(now.order)


@ORDER_ACTIONS.add(
    "restore",
    "It is coming after all",
    "Take it up again",
    "The order stands again.",
    why_not=why_not_restore,
)
def _restore(now: OrderNow, sheet: Sheet, by: User) -> None:
    restore(now.order)


@require_http_methods(["GET", "HEAD", "POST"])
def show_order(request: HttpRequest, pk: int, name: str = "") -> HttpResponse:
    now = find_or_404(pk)
    sheet, done = ORDER_ACTIONS.open(request, now, pk, name)
    if done is not None:
        return done
    today = timezone.localdate()
    context = {
        "section": "buying",
        "now": now,
        "today": today,
        "late_days": now.late_days(today),
        "table": lay_table(table_order(now)),
        "carriage": say_carriage(now),
        "actions": ORDER_ACTIONS.list_open(now, pk, name, sheet, "inventory:order-action"),
    }
    return show(request, "ordering/order.html", sheet, context)


@require_http_methods(["GET", "HEAD", "POST"])
def receive_order(request: HttpRequest, pk: int) -> HttpResponse:
    """A delivery of an order: filled with what is still to come."""
    now = find_or_404(pk)
    if request.method != "POST":
        turned_away = why_not_receive(now)
        if turned_away:
            messages.warning(request, turned_away)
            return HttpResponse(
                status=302, headers={"Location": reverse("inventory:order-detail", args=[pk])}
            )
    sheet = ReceiveSheet(sent(request), now, materials_to_choose())
    form, lines = sheet.form, sheet.rows["lines"]

    def save() -> str:
        found = form.cleaned_data
        if not found["seen"]:
            raise Refused("This page has been open too long. Open the order again.")
        delivery = post_delivery(
            now.order.supplier,
            found["day"],
            read_lines(lines, found["day"]),
            form.charges,
            reference=found["reference"],
            by=signed_in_user(request),
            of=Receiving(now.order, found["seen"]),
        )
        still = read_order(now.order).is_open
        said = (
            "It is in stock; the rest is still to come."
            if still
            else "It is in stock, and the order is done."
        )
        messages.success(request, with_way_back(said, delivery.entry))
        return reverse("inventory:delivery-detail", args=[delivery.pk])

    done = answer(sheet, save)
    if done is not None:
        return done
    context: dict[str, Any] = {
        "has_materials": True,
        "section": "buying",
        "now": now,
        "table": lay_table(table_order(now)),
    }
    if request.method == "POST":
        context["ahead"] = look_ahead(form, lines)
    return show(request, "buying/delivery_new.html", sheet, context)
