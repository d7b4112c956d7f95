"""Putting the fineness of a lot right: the form, what would change, and then the entry; and weighing in water."""

from hashlib import blake2b
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.core.weighing_in_water import TAKEN_FOR_GRANTED
from inventory.forms.assaying import AssayForm, print_ends
from inventory.forms.sheet import Sheet
from inventory.models import Lot
from inventory.posting.assaying import post_assay
from inventory.posting.refusal import Refused
from inventory.queries.fineness import Spread, is_in_mixes, pieces_gone, spread_of
from inventory.queries.studio import studio_of

from .lots import CANNOT_NOW, find_or_404
from .saving import answer, sent, show, signed_in_user, with_way_back

TEMPLATE = "stock/assay.html"
WORK_OUT = "work_out"
CHANGES_SHOWN = 60


class _Asks(Refused):
    """Not saved yet: the person has not seen what would change."""


@require_http_methods(["GET", "HEAD", "POST"])
def assay_lot(request: HttpRequest, pk: int) -> HttpResponse:
    """The first press shows what would change, the second writes it down."""
    lot = find_or_404(pk)
    if lot.void or not lot.material.fineness:
        messages.warning(request, CANNOT_NOW)
        return redirect(_address(lot))
    form: Any = AssayForm(sent(request), lot=lot, initial=_begin(request, lot))
    sheet = Sheet(form)
    if WORK_OUT in request.POST:
        return _work_out(request, lot, sheet)
    seen: list[Spread] = []
    done = answer(sheet, lambda: _post(request, lot, form, seen))
    if done is not None:
        return done
    context: dict[str, Any] = {}
    if seen:
        form.data = form.data.copy()
        form.data["seen"] = _mark(seen[0])
        form.errors.clear()
        context = {"changes": seen[0].changes[:CHANGES_SHOWN], "spread": seen[0]} | _besides(seen[0])
    return _show(request, lot, sheet, context)


def _begin(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """Carried on at the start where something was made of it: else what is known by now would stay a guess there."""
    begun: dict[str, Any] = {"day": timezone.localdate(), "water_c": 20}
    return begun | ({} if request.method == "POST" else {"goes_on": is_in_mixes(lot)})


def _show(request: HttpRequest, lot: Lot, sheet: Sheet, context: dict[str, Any]) -> HttpResponse:
    opens = any(sheet.form.errors.get(name) for name in AssayForm.IN_WATER) or "in_water" in context
    more = {
        "lot": lot,
        "section": "stock",
        "back": _address(lot),
        "granted": TAKEN_FOR_GRANTED,
        "is_silver": lot.material.alloy is not None and lot.material.alloy.metal == "silver",
        "opens_water": opens,
    }
    return show(request, TEMPLATE, sheet, more | context)


def _besides(spread: Spread) -> dict[str, Any]:
    return {
        "more": max(0, len(spread.changes) - CHANGES_SHOWN),
        "gone": pieces_gone(spread.casts),
    }


def _work_out(request: HttpRequest, lot: Lot, sheet: Sheet) -> HttpResponse:
    """Two weighings become a guess, which can be taken as it is."""
    form = sheet.form
    form.is_valid()
    found = form.work_out(studio_of(request).scale_division_mg)
    for name in [*form.errors]:
        if name not in form.IN_WATER:
            del form.errors[name]
    if found is None:
        return _show(request, lot, sheet, {})
    form.data = form.data.copy()
    if not found.problem:
        form.data["guess"], form.data["measured"] = print_ends(found.low_ppm, found.high_ppm), ""
    sheet.hold_judgement()
    return _show(request, lot, sheet, {"in_water": found})


def _mark(spread: Spread) -> str:
    """The same for the same changes: what a person saw and agreed to."""
    said = repr(
        [(one.holder.pk, one.holder.quantity, one.holder.fine_ug, one.fine_ug) for one in spread.changes]
    )
    return blake2b(said.encode(), digest_size=12).hexdigest()


def _post(request: HttpRequest, lot: Lot, form: AssayForm, seen: list[Spread]) -> str:
    # Read again inside the posting's transaction: it may have moved meanwhile.
    assay = form.assay(find_or_404(lot.pk))
    spread = spread_of(assay.lot, assay.low_ppm, assay.high_ppm, assay.goes_on)
    if spread.changes and form.cleaned_data["seen"] != _mark(spread):
        seen.append(spread)
        raise _Asks("Look at what would change, and press once more.")
    entry = post_assay(
        assay, form.cleaned_data["day"], form.cleaned_data["note"] or "", signed_in_user(request)
    )
    messages.success(request, with_way_back("The fineness is put right.", entry))
    return _address(lot)


def _address(lot: Lot) -> str:
    return reverse("inventory:lot-detail", args=[lot.pk])
