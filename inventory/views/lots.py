"""One lot: what is known of it, what it cost, what happened to it, and what can be done with it."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from inventory.core.landed import explain_landed_cost
from inventory.core.picking import is_past_use_by
from inventory.core.reclaim_kinds import compute_expected_metal
from inventory.forms.customers import PassOnForm
from inventory.forms.reclaim import CleanedForm, IntoTinForm
from inventory.forms.sheet import Sheet
from inventory.forms.stock import (
    CountForm,
    DampForm,
    HandBackForm,
    LotFactsForm,
    OpenTubForm,
    SettingTestForm,
    TakeForm,
    ThrowAwayForm,
)
from inventory.models import Entry, Lot, Material, Studio
from inventory.posting.reclaim import post_cleaned, post_together
from inventory.posting.stock import (
    mend_lot,
    note_setting_test,
    open_tub,
    post_count,
    post_hand_back,
    post_scrap,
    post_use,
)
from inventory.posting.topping import post_top_up
from inventory.queries.buying import on_top_of, received_lots
from inventory.queries.fineness import last_assay
from inventory.queries.pictures import SHOWN, pictures_of
from inventory.queries.reclaim_kinds import kind_rules
from inventory.queries.refining import batches_with
from inventory.queries.shelf import holding_plans, promised
from inventory.queries.stock import find_lot, lot_history, quantity_come_in
from inventory.queries.studio import studio_of
from inventory.queries.tins import tin_it_went_into, tins_for
from inventory.tables.stock import HistoryTable
from studio.kit.charts import used_up_bar
from studio.kit.printing import print_day, print_mass, print_money, print_quantity
from studio.kit.tables import lay_out
from studio.kit.views import or_404
from studio.kit.working import Working

from .saving import Actions, show, with_way_back

TESTS_SHOWN = 5
CANNOT_NOW = "That cannot be done with this lot as it stands now. Nothing was changed."


def find_or_404(pk: int) -> Lot:
    return or_404(find_lot(pk), "There is no such lot.")


def _is_held(lot: Lot) -> bool:
    return not lot.void and lot.holder.quantity > 0


def _is_metal(lot: Lot) -> bool:
    return lot.material.kind == Material.Kind.METAL


def _form(form_class: type[Any]) -> Callable[..., Sheet]:
    return lambda lot, data=None, **layout: Sheet(form_class(data, lot=lot, **layout))


def _unless(fits: Callable[[Lot], bool]) -> Callable[[Lot], str]:
    return lambda lot: "" if fits(lot) else CANNOT_NOW


def _is_real(lot: Lot) -> bool:
    return not lot.void


def _can_be_taken(lot: Lot) -> bool:
    return _is_held(lot) and not _is_metal(lot)


def _say_gone(lot: Lot, entry: Entry, cleaned: dict[str, Any], done: str) -> str:
    return with_way_back(f"{print_quantity(cleaned['quantity'], lot.material.unit)} {done}.", entry)


LOT_ACTIONS: Actions[Lot] = Actions(find_or_404, lambda lot: reverse("inventory:lot-detail", args=[lot.pk]))


@LOT_ACTIONS.add(
    "open",
    "Open it",
    "It is open",
    make=_form(OpenTubForm),
    why_not=_unless(lambda lot: _can_be_taken(lot) and lot.opened_on is None),
)
def _open(lot: Lot, sheet: Sheet, by: User) -> str:
    open_tub(lot, sheet.form.cleaned_data["day"])
    return f"Opened; use it by {print_day(lot.use_by, with_year=True)}." if lot.use_by else "Opened."


@LOT_ACTIONS.add("count", "Count it", "Set to this", make=_form(CountForm), why_not=_unless(_is_real))
def _count(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    entry = post_count(lot, cleaned["counted"], cleaned["day"], cleaned["note"], by)
    said = "The count agrees: nothing moved." if entry is None else "The lot stands at what you counted."
    return with_way_back(said, entry)


@LOT_ACTIONS.add("take", "Take from stock", "Take it", make=_form(TakeForm), why_not=_unless(_can_be_taken))
def _take(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    entry = post_use(
        lot, cleaned["quantity"], cleaned["day"], cast=cleaned["cast_number"], note=cleaned["note"], by=by
    )
    return _say_gone(lot, entry, cleaned, "taken from stock")


@LOT_ACTIONS.add(
    "clean",
    "Weigh them cleaned",
    "They are clean",
    make=_form(CleanedForm),
    why_not=_unless(lambda lot: _is_held(lot) and lot.may_be_cleaned),
)
def _clean(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned, before_mg = sheet.form.cleaned_data, lot.holder.quantity
    clean = post_cleaned(lot, cleaned["mass"], cleaned["day"], cleaned["note"], by)
    off_mg = max(before_mg - cleaned["mass"], 0)
    said = (
        f"{print_mass(cleaned['mass'])} of clean reclaim, lot {clean.pk}; {print_mass(off_mg)} was investment"
    )
    return with_way_back(f"{said}, and counts as lost in the pour.", clean.entry)


@LOT_ACTIONS.add(
    "into-tin",
    "Put it into a tin",
    "Put it in",
    make=_form(IntoTinForm),
    why_not=_unless(lambda lot: _is_held(lot) and tins_for(lot).exists()),
    way_on=lambda lot: reverse("inventory:tin-detail", args=[tin_it_went_into(lot).pk]),  # type: ignore[union-attr]  # just now
)
def _into_tin(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    made = post_together(cleaned["tin"], [lot], cleaned["day"], cleaned["note"], by)
    return with_way_back(f"It lies in {cleaned['tin']} now.", made.entry if made else None)


@LOT_ACTIONS.add(
    "hand-back",
    "Hand back",
    "Hand it back",
    make=_form(HandBackForm),
    why_not=_unless(lambda lot: _is_held(lot) and lot.owner is not None),
)
def _hand_back(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    entry = post_hand_back(lot, cleaned["quantity"], cleaned["day"], cleaned["note"], by)
    return _say_gone(lot, entry, cleaned, f"handed back to {lot.owner}")


@LOT_ACTIONS.add(
    "pass-on",
    "Pass it to a customer",
    "It becomes theirs",
    make=_form(PassOnForm),
    why_not=_unless(lambda lot: _is_held(lot) and _is_metal(lot) and lot.owner is None),
)
def _pass_on(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    customer, mass_mg = cleaned["customer"], cleaned["quantity"]
    theirs = post_top_up(lot, customer, mass_mg, cleaned["price"], cleaned["day"], cleaned["note"], by)
    done = f"{print_quantity(mass_mg, lot.material.unit)} are {customer}'s now, as lot {theirs.pk}."
    return with_way_back(done, theirs.entry)


@LOT_ACTIONS.add(
    "throw-away", "Throw away", "Throw it away", make=_form(ThrowAwayForm), why_not=_unless(_is_held)
)
def _throw_away(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    entry = post_scrap(lot, cleaned["quantity"], cleaned["day"], cleaned["note"], by)
    went_micro = sum(entry.movements.values_list("cost_micro", flat=True))
    cost = f", which cost {print_money(went_micro)}" if went_micro else ""
    return _say_gone(lot, entry, cleaned, f"thrown away{cost}")


@LOT_ACTIONS.add(
    "setting-test",
    "Test how it sets",
    "Write it down",
    make=_form(SettingTestForm),
    why_not=_unless(lambda lot: _is_held(lot) and lot.material.kind == Material.Kind.POWDER),
)
def _test_setting(lot: Lot, sheet: Sheet, by: User) -> str:
    cleaned = sheet.form.cleaned_data
    in_time = note_setting_test(lot, cleaned["day"], cleaned["minutes"], cleaned["note"], by)
    if in_time is None:
        return "Written down. Write the maker's setting time with the material, and a test is judged by it."
    return (
        "Written down: it sets as its maker says."
        if in_time
        else "It sets out of its maker's time: it is set aside, and nothing offers or counts it any more."
    )


@LOT_ACTIONS.add(
    "damp",
    "It got damp",
    "It is damp",
    make=_form(DampForm),
    why_not=_unless(
        lambda lot: _is_held(lot) and lot.material.kind == Material.Kind.POWDER and not lot.damp_on
    ),
)
def _mark_damp(lot: Lot, sheet: Sheet, by: User) -> str:
    mend_lot(lot, {"damp_on": sheet.form.cleaned_data["day"]})
    return "Nothing offers or counts it any more. Mend the facts, if it was not so."


@LOT_ACTIONS.add("facts", "Mend the facts", "Save", make=_form(LotFactsForm), why_not=_unless(_is_real))
def _mend(lot: Lot, sheet: Sheet, by: User) -> str:
    mend_lot(lot, sheet.form.facts())
    return "The facts are mended. No stock moved."


@require_http_methods(["GET", "HEAD", "POST"])
def show_lot(request: HttpRequest, pk: int, name: str = "") -> HttpResponse:
    """A lot; with `name`, that action open. A POST does it."""
    lot = find_or_404(pk)
    sheet, done = LOT_ACTIONS.open(request, lot, pk, name)
    if done is not None:
        return done
    # A form that was refused has changed its lot in memory; the page shows the one that is saved.
    lot = find_or_404(pk) if sheet and sheet.form.is_bound else lot
    return show(request, "stock/lot.html", sheet, _context(request, lot, name, sheet))


def _context(request: HttpRequest, lot: Lot, asked: str, sheet: Sheet | None) -> dict[str, Any]:
    came_in = quantity_come_in(lot)
    history = HistoryTable(lot_history(lot.holder, lot.material.unit), order_by=())
    left = lot.holder.quantity
    return {
        "lot": lot,
        "section": "stock",
        "mend_words": f"Mend what brought it in: {lot.entry.get_kind_display()}",
        "is_metal": _is_metal(lot),
        "pictures": pictures_of(lot=lot)[:SHOWN],
        "labels_address": f"{reverse('inventory:labels', args=['lot'])}?only={lot.pk}",
        "pictures_address": reverse("inventory:picture-list", args=["lot", lot.pk]),
        "went_into": tin_it_went_into(lot) if lot.origin in Lot.IN_TINS and not left else None,
        "begins_tin": _is_held(lot) and lot.origin in Lot.IN_TINS and lot.tin_id is None,
        "refiner_address": _refiner_address(lot),
        "can_assay": not lot.void and lot.material.fineness > 0,
        "assays": last_assay(lot),
        "promised": promised().get(lot.pk, 0) if left else 0,
        "plans": holding_plans(lot) if left else [],
        "is_stale": is_past_use_by(lot.use_by, timezone.localdate()) and left > 0,
        "setting_tests": lot.setting_tests.all()[:TESTS_SHOWN],
        "bar": used_up_bar(max(0, came_in - left), left, lot.material.unit) if came_in else None,
        "landed": _landed_working(lot),
        "batches": batches_with(lot) if _is_metal(lot) else [],
        "actions": LOT_ACTIONS.list_open(lot, lot.pk, asked, sheet, "inventory:lot-action"),
        "expected": _expected(lot, studio_of(request)),
        "history": lay_out(history, request),
    }


def _refiner_address(lot: Lot) -> str:
    """The page of a batch with this lot ticked; "" for what no refiner takes."""
    if not _is_held(lot) or not _is_metal(lot):
        return ""
    asked = {"metal": lot.material.alloy.metal, "owner": lot.owner_id or "", "lot": lot.pk}  # type: ignore[union-attr]  # metal has one
    return f"{reverse('inventory:batch-new')}?{urlencode(asked)}"


def _expected(lot: Lot, studio: Studio) -> Working | None:
    """What of a lot of reclaim is metal, where that is not all of it."""
    rule = kind_rules(studio).get(lot.origin)
    if rule is None or not lot.holder.quantity or rule.is_all_metal:
        return None
    return compute_expected_metal(lot.holder.quantity, lot.holder.fine_ug, rule).working


def _landed_working(lot: Lot) -> Working | None:
    """What the lot cost as it came in, as its delivery tells it; reclaim has no landed cost of its own."""
    if lot.delivery is None:
        return None
    received = received_lots(lot.delivery)
    line = next(one.line for one in received if one.lot.pk == lot.pk)
    return explain_landed_cost(line, on_top_of(lot.delivery))
