"""One lot: what is known of it, what it cost, what happened to it, and what can be done with it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.core.keeping import is_past_use_by
from inventory.core.landed import explain_landed_cost
from inventory.forms.stock import (
    CountForm,
    HandBackForm,
    LotFactsForm,
    OpenTubForm,
    TakeForm,
    ThrowAwayForm,
)
from inventory.models import Lot, Material
from inventory.posting.refusal import Refused
from inventory.posting.stock import mend_lot, open_tub, post_count, post_hand_back, post_scrap, post_use
from inventory.queries.buying import late_bills, on_top_of, received_lots
from inventory.queries.stock import lot_history, quantity_come_in
from inventory.tables.stock import HistoryTable
from studio.kit.charts import used_up_bar
from studio.kit.printing import print_day, print_quantity
from studio.kit.tables import lay_out
from studio.kit.working import Working

from .saving import save_once, signed_in_user

CANNOT_NOW = "That cannot be done with this lot as it stands now. Nothing was changed."


@dataclass(frozen=True)
class Action:
    """Something that can be done with a lot. `act` does it and returns what to say."""

    label: str
    button: str
    form_class: type[Any]
    fits: Callable[[Lot], bool]
    act: Callable[[Lot, Any, User], str]


def _count(lot: Lot, form: Any, by: User) -> str:
    cleaned = form.cleaned_data
    entry = post_count(lot, cleaned["counted"], cleaned["day"], cleaned["note"], by)
    return "The count agrees: nothing moved." if entry is None else "The lot stands at what you counted."


def _take(lot: Lot, form: Any, by: User) -> str:
    cleaned = form.cleaned_data
    post_use(
        lot, cleaned["quantity"], cleaned["day"], cast=cleaned["cast_number"], note=cleaned["note"], by=by
    )
    return f"{print_quantity(cleaned['quantity'], lot.material.unit)} taken from stock."


def _throw_away(lot: Lot, form: Any, by: User) -> str:
    cleaned = form.cleaned_data
    post_scrap(lot, cleaned["quantity"], cleaned["day"], cleaned["note"], by)
    return f"{print_quantity(cleaned['quantity'], lot.material.unit)} thrown away."


def _hand_back(lot: Lot, form: Any, by: User) -> str:
    cleaned = form.cleaned_data
    post_hand_back(lot, cleaned["quantity"], cleaned["day"], cleaned["note"], by)
    return f"{print_quantity(cleaned['quantity'], lot.material.unit)} handed back to {lot.owner}."


def _open(lot: Lot, form: Any, by: User) -> str:
    open_tub(lot, form.cleaned_data["day"])
    return f"Opened; use it by {print_day(lot.use_by, with_year=True)}." if lot.use_by else "Opened."


def _mend(lot: Lot, form: Any, by: User) -> str:
    mend_lot(lot, form.facts())
    return "The facts are mended. No stock moved."


def _is_held(lot: Lot) -> bool:
    return not lot.void and lot.holder.quantity > 0


def _is_metal(lot: Lot) -> bool:
    return lot.material.kind == Material.Kind.METAL


def _can_be_opened(lot: Lot) -> bool:
    return _is_held(lot) and not _is_metal(lot) and lot.opened_on is None


ACTIONS: dict[str, Action] = {
    "open": Action("Open it", "It is open", OpenTubForm, _can_be_opened, _open),
    "count": Action("Count it", "Set to this", CountForm, lambda lot: not lot.void, _count),
    "take": Action(
        "Take from stock", "Take it", TakeForm, lambda lot: _is_held(lot) and not _is_metal(lot), _take
    ),
    "hand-back": Action(
        "Hand back",
        "Hand it back",
        HandBackForm,
        lambda lot: _is_held(lot) and lot.owner is not None,
        _hand_back,
    ),
    "throw-away": Action("Throw away", "Throw it away", ThrowAwayForm, _is_held, _throw_away),
    "facts": Action("Mend the facts", "Save", LotFactsForm, lambda lot: not lot.void, _mend),
}


@dataclass(frozen=True)
class ShownAction:
    """An action as the page offers it; open when it was asked for, or refused."""

    action: Action
    address: str
    form: Any
    is_open: bool


def find_lot(pk: int) -> Lot:
    lots = Lot.objects.select_related(
        "holder", "material__alloy", "owner", "supplier", "from_cast", "delivery__supplier", "entry"
    )
    return get_object_or_404(lots, pk=pk)


@require_safe
def show_lot(request: HttpRequest, pk: int) -> HttpResponse:
    return render_lot(request, find_lot(pk))


@require_http_methods(["GET", "HEAD", "POST"])
def act_on_lot(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """The lot's page with one action open; a POST does it."""
    lot = find_lot(pk)
    action = ACTIONS.get(name)
    if action is None:
        raise Http404
    address = reverse("inventory:lot-detail", args=[lot.pk])
    if not action.fits(lot):
        messages.warning(request, CANNOT_NOW)
        return redirect(address)
    form = action.form_class(request.POST if request.method == "POST" else None, lot=lot)
    if form.is_bound and form.is_valid():
        said: list[str] = []
        if save_once(form, lambda: _do(action, lot, form, signed_in_user(request), said, address)):
            for sentence in said:
                messages.success(request, sentence)
            return redirect(address)
    # A form that was refused has changed its lot in memory; the page shows the one that is saved.
    return render_lot(request, find_lot(pk) if form.is_bound else lot, name, form)


def _do(action: Action, lot: Lot, form: Any, by: User, said: list[str], address: str) -> str:
    lot = find_lot(lot.pk)
    if not action.fits(lot):
        # Somebody else did something with it since it was read.
        raise Refused(CANNOT_NOW)
    said.append(action.act(lot, form, by))
    return address


def render_lot(request: HttpRequest, lot: Lot, asked: str = "", form: Any = None) -> HttpResponse:
    came_in = quantity_come_in(lot)
    history = HistoryTable(lot_history(lot.holder, lot.material.unit), order_by=())
    left = lot.holder.quantity
    shown = [
        ShownAction(
            action,
            reverse("inventory:lot-action", args=[lot.pk, name]),
            form if name == asked else action.form_class(None, lot=lot, auto_id=f"id_{name}_%s"),
            name == asked,
        )
        for name, action in ACTIONS.items()
        if action.fits(lot)
    ]
    context = {
        "lot": lot,
        "section": "stock",
        "is_metal": _is_metal(lot),
        "is_stale": is_past_use_by(lot.use_by, timezone.localdate()) and left > 0,
        "bar": used_up_bar(max(0, came_in - left), left, lot.material.unit) if came_in else None,
        "landed": _landed_working(lot),
        "actions": shown,
        "history": lay_out(history, request),
    }
    return render(request, "stock/lot.html", context)


def _landed_working(lot: Lot) -> Working | None:
    """What the lot cost as it came in, as its delivery tells it; reclaim has no landed cost of its own."""
    if lot.delivery is None:
        return None
    received = received_lots(lot.delivery, late_bills(lot.delivery))
    line = next(one.line for one in received if one.lot.pk == lot.pk)
    return explain_landed_cost(line, on_top_of(lot.delivery))
