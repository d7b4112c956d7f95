"""Reclaim: how much may go back and what is to be refined, tins and what is done with them, the studio's own rules."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.core.reclaim_outlook import compute_past_rule, compute_saving, say_past_rule
from inventory.filters import WordsOnlyFilter
from inventory.forms.reclaim import PutInForm, ReclaimSettingsForm, TakeOutForm, TinForm
from inventory.forms.sheet import Sheet
from inventory.models import Tin
from inventory.posting.reclaim import open_tin, post_apart, post_together
from inventory.queries.reclaim import (
    ScrapOutlook,
    kinds_on_hand,
    price_paid,
    reclaim_by_month,
    scrap_outlook,
)
from inventory.queries.studio import charge_rules, current_studio, studio_of
from inventory.queries.tins import TinNow, find_tin, tins
from inventory.queries.trace import ingredients_of
from inventory.tables.reclaim import IngredientTable, TinTable
from studio.kit.chart_months import months_chart
from studio.kit.printing import print_mass
from studio.kit.tables import lay_out
from studio.kit.views import or_404

from .labelled import LabelledList
from .records import RecordPages
from .saving import Actions, alone, answer_record, sent, show, with_way_back

_ALLOYS_A_PAGE = 6


@require_safe
def show_reclaim(request: HttpRequest) -> HttpResponse:
    """How much may go back, alloy by alloy. The same number of questions for any number of alloys."""
    studio = studio_of(request)
    kinds, months = kinds_on_hand(studio), reclaim_by_month(timezone.localdate())
    # Only where something can be done.
    acted_on = [one for one in scrap_outlook(studio) if one.allowance.on_hand_mg or one.alloy.pk in kinds]
    every = Paginator(acted_on, _ALLOYS_A_PAGE).get_page(request.GET.get("alloys"))
    paid = price_paid([one.alloy for one in every])
    rules = charge_rules(0, studio)
    lines = []
    for one in every:
        past = compute_past_rule(one.lots, one.allowance, rules, studio.scale_division_mg)
        key = one.alloy.pk
        lines.append(
            {
                "outlook": one,
                "kinds": kinds.get(key, []),
                "saving": _saving(one, paid),
                "past": say_past_rule(past, one.allowance, rules) if past else "",
                "picture": months_chart(months[key], title=f"{one.alloy}: reclaim, month by month")
                if any(mass_mg for _, mass_mg in months.get(key, []))
                else None,
            }
        )
    return render(request, "stock/reclaim.html", {"lines": lines, "page": every, "section": "stock"})


def _saving(one: ScrapOutlook, paid: Any) -> dict[str, Any] | None:
    price = paid.get(one.alloy.pk)
    if price is None or not one.allowance.may_take_mg:
        return None
    saved_micro, working = compute_saving(one.allowance.may_take_mg, price)
    return {"micro": saved_micro, "working": working, "price": price}


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_rules(request: HttpRequest) -> HttpResponse:
    """What of each kind of reclaim may be melted as it is."""
    form = ReclaimSettingsForm(sent(request), instance=current_studio())
    address = reverse("inventory:reclaim")

    def save() -> str:
        form.save()
        messages.success(request, "Saved. Charges are offered by it from now on.")
        return address

    return answer_record(request, form, save, "Reclaim and tins", (address, "How much may go back"))


class Tins(LabelledList, RecordPages):
    labels = "tin"
    name, folder = "tin", "stock/tins/"
    model, form_class, table_class = Tin, TinForm, TinTable
    filterset_class = WordsOnlyFilter
    edit_path = "<whole:pk>/name/"
    title = "Tins"
    lead = "Reclaim that lies together. What is in a tin is one lot, however many casts it came from."
    press = ("Begin a tin", "inventory:tin-new")
    new_title = "A new tin"

    def get_queryset(self) -> Any:
        return tins()

    def find_way_on(self, record: Tin) -> str:
        return reverse("inventory:tin-detail", args=[record.pk])


def find_or_404(pk: int) -> TinNow:
    return or_404(find_tin(pk), "There is no such tin.")


TIN_ACTIONS: Actions[TinNow] = Actions(
    find_or_404, lambda now: reverse("inventory:tin-detail", args=[now.tin.pk])
)


@TIN_ACTIONS.add(
    "put-in",
    "Put lots in",
    "Put them in",
    make=lambda now, data=None, **layout: Sheet(PutInForm(data, tin=now.tin, **layout)),
    why_not=lambda now: "" if now.tin.is_open else f"{now.tin} is closed: open it again first.",
)
def _put_in(now: TinNow, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    made = post_together(now.tin, list(found["lots"]), found["day"], found["note"], by)
    return with_way_back("They lie together now.", made.entry if made else None)


@TIN_ACTIONS.add(
    "take-out",
    "Take some out",
    "Take it out",
    make=lambda now, data=None, **layout: Sheet(TakeOutForm(data, lot=now.lot, **layout)),
    why_not=lambda now: "" if now.lot else f"{now.tin} is empty.",
)
def _take_out(now: TinNow, sheet: Sheet, by: User) -> str:
    found = sheet.form.cleaned_data
    assert now.lot is not None  # noqa: S101 - why_not turned an empty one away
    out = post_apart(now.lot, found["quantity"], found["day"], found["note"], by)
    return with_way_back(f"{print_mass(found['quantity'])} is out, as lot {out.pk}.", out.entry)


@TIN_ACTIONS.add(
    "close",
    "Close it",
    "Close the tin",
    "It is closed: nothing more goes in. What is in it can be melted and taken out as before.",
    why_not=lambda now: "" if now.tin.is_open else "It is closed already.",
)
def _close(now: TinNow, sheet: Sheet, by: User) -> None:
    open_tin(now.tin, is_open=False)


@TIN_ACTIONS.add(
    "open",
    "Open it again",
    "Open the tin",
    "It is open again.",
    why_not=lambda now: "It is open already." if now.tin.is_open else "",
)
def _open(now: TinNow, sheet: Sheet, by: User) -> None:
    open_tin(now.tin, is_open=True)


@require_http_methods(["GET", "HEAD", "POST"])
def show_tin(request: HttpRequest, pk: int, name: str = "") -> HttpResponse:
    """A tin; with `name`, that action open. A POST does it."""
    now = find_or_404(pk)
    sheet, done = TIN_ACTIONS.open(request, now, pk, name)
    if done is not None:
        return done
    made_of = IngredientTable(ingredients_of(now), totals={"mass": now.held.quantity}, order_by=())
    context = {
        "now": now,
        "section": "stock",
        "labels_address": f"{reverse('inventory:labels', args=['tin'])}?only={pk}",
        "made_of": lay_out(made_of, request) if now.lots else None,
        "actions": TIN_ACTIONS.list_open(now, pk, name, sheet, "inventory:tin-action"),
    }
    return show(request, "stock/tin.html", sheet, context)
