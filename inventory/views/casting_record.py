"""The page for a cast that is already done, and what its forms come to while they are typed."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.alloying import Portion
from inventory.core.powder import compute_expected_water
from inventory.forms.casting_fields import offer_metal, offer_powder
from inventory.forms.casting_record import (
    TENTHS_TO_PCT100,
    RecordChoices,
    RecordSheet,
    read_beginning,
    read_record_choices,
)
from inventory.forms.casting_rows import ChargeFormSet, PieceFormSet, PowderFormSet
from inventory.forms.casting_steps import WeightsForm
from inventory.forms.casting_sums import LiveSums, Weighed, add_up, lots_written, read_portions, read_weighed
from inventory.forms.starting_again import write_over
from inventory.models import Alloy, Cast, Equipment
from inventory.posting.casting import post_cast
from inventory.queries.casting_before import Beginning
from inventory.queries.casting_choices import metal_lots, powder_lots
from inventory.queries.casting_page import find_cast, read_cast_page
from inventory.queries.meeting import Care, care_for
from inventory.queries.setup import find_by_key
from inventory.queries.studio import studio_of
from studio.kit.working import Working

from .saving import answer, sent, show, signed_in_user

TEMPLATE = "casting/record.html"
START_AGAIN = "start_again"
_LONGEST_KEY = 9


@require_http_methods(["GET", "HEAD", "POST"])
def record_cast(request: HttpRequest) -> HttpResponse:
    """Write down a whole cast on one page; with `?like=41`, one that begins as cast 41 was."""
    choices = read_record_choices(_begun(request))
    if START_AGAIN in request.POST:
        return _start_again(request, choices)
    sheet = RecordSheet(choices, sent(request))
    context: dict[str, Any] = {}
    if request.method == "POST":
        # Added up before the posting can refuse anything, for a refused figure is no longer among the clean ones.
        context = _live_sums(request, sheet)
        done = answer(sheet, lambda: _post(request, sheet))
        if done is not None:
            return done
    return show(request, TEMPLATE, sheet, context)


def _begun(request: HttpRequest) -> Beginning | None:
    """What the page is to begin with: the alloy and flask that are chosen, or a cast that it is to be like."""
    if request.method == "POST":
        begun = read_beginning(request.POST.get("begun", "")) or Beginning()
        keys = (request.POST.get(name, "") for name in ("alloy", "flask"))
        alloy, flask = (int(key) if key.isdecimal() and len(key) < _LONGEST_KEY else None for key in keys)
        return replace(begun, alloy=alloy, flask=flask)
    like = _cast_named(request.GET.get("like", ""))
    return None if like is None else Beginning(like.alloy_id, like.flask_id, like)


def _start_again(request: HttpRequest, choices: RecordChoices) -> HttpResponse:
    """Another alloy or flask was chosen: what the page offers follows, and what was written stays."""
    begun = read_beginning(request.POST.get("begun", "")) or choices.begun
    before, after = RecordSheet(choices.begin_with(begun)), RecordSheet(choices)
    sheet = RecordSheet(choices, write_over(request.POST, before, after))
    context = _live_sums(request, sheet)
    sheet.hold_judgement()
    return show(request, TEMPLATE, sheet, context)


def _live_sums(request: HttpRequest, sheet: RecordSheet) -> dict[str, Any]:
    found = getattr(sheet.form, "cleaned_data", {})
    care = care_for(found.get("alloy"), found.get("crucible"), lots_written(sheet.rows["charge"]))
    return {"sums": _sums_of_record(request, sheet), "care": care, "waters": _waters(sheet.rows["powder"])}


def _post(request: HttpRequest, sheet: RecordSheet) -> str:
    cast = post_cast(sheet.to_record(), signed_in_user(request))
    messages.success(request, f"Cast {cast.number} is written down.")
    return reverse("inventory:cast-detail", args=[cast.number])


def _sums_of_record(request: HttpRequest, sheet: RecordSheet) -> LiveSums:
    alloy = getattr(sheet.form, "cleaned_data", {}).get("alloy")
    portions, problems = read_portions(sheet.rows["charge"], alloy.metal if alloy else "")
    weighed = read_weighed(sheet.form, sheet.rows["pieces"])
    return add_up(alloy, studio_of(request), portions, problems, weighed)


@require_POST
def show_balance(request: HttpRequest) -> HttpResponse:
    """What a charge and the weights after the pour come to so far. Nothing is saved.

    `?cast=` adds to what is already in the crucible of a cast; without it the form names its own alloy.
    """
    cast = _cast_asked_for(request)
    alloy = cast.alloy if cast else _alloy_asked_for(request)
    portions: list[Portion] = []
    problems: list[str] = []
    weighed = Weighed()
    if cast is not None:
        portions = list(read_cast_page(cast, studio_of(request)).portions)
    rows = None
    if "charge-TOTAL_FORMS" in request.POST:
        options = offer_metal(metal_lots(), cast.owner_id if cast else None, any_owner=cast is None)
        rows = ChargeFormSet(request.POST, prefix="charge", form_kwargs={"options": options})
        more, problems = read_portions(rows, alloy.metal if alloy else "")
        portions = [*portions, *more]
    if "pieces-TOTAL_FORMS" in request.POST:
        weighed = read_weighed(WeightsForm(request.POST), PieceFormSet(request.POST, prefix="pieces"))
    sums = add_up(alloy, studio_of(request), portions, problems, weighed)
    return render(request, "casting/sums.html", {"sums": sums, "care": _care(request, alloy, cast, rows)})


def _care(request: HttpRequest, alloy: Alloy | None, cast: Cast | None, rows: Any) -> Care:
    """The care for the portions written so far, but for what the page of a cast says at its top anyway."""
    lots = lots_written(rows) if rows is not None else []
    if cast is None:
        return care_for(alloy, find_by_key(Equipment, request.POST.get("crucible", "")), lots)
    said = care_for(alloy, None, [], but=cast).cautions
    more = care_for(alloy, None, lots, but=cast).cautions if lots else ()
    return Care(tuple(kind for kind in more if kind not in said))


def _cast_asked_for(request: HttpRequest) -> Cast | None:
    return _cast_named(request.GET.get("cast", ""))


def _cast_named(number: str) -> Cast | None:
    return find_cast(int(number)) if number.isdecimal() and len(number) < _LONGEST_KEY else None


def _alloy_asked_for(request: HttpRequest) -> Alloy | None:
    return find_by_key(Alloy, request.POST.get("alloy", ""))


@require_POST
def show_water(request: HttpRequest) -> HttpResponse:
    """The water for the powder written so far, by each powder's own figure. Nothing is saved."""
    options = offer_powder(powder_lots())
    rows = PowderFormSet(request.POST, prefix="powder", form_kwargs={"options": options})
    return render(request, "casting/water.html", {"waters": _waters(rows)})


def _waters(rows: Any) -> list[Working]:
    rows.is_valid()
    found = []
    for form in rows.forms:
        cleaned = getattr(form, "cleaned_data", {})
        lot, mass_mg = cleaned.get("lot"), cleaned.get("mass")
        if lot is not None and mass_mg and lot.material.water_per_100_tenths:
            pct100 = lot.material.water_per_100_tenths * TENTHS_TO_PCT100
            found.append(compute_expected_water(mass_mg, pct100)[1])
    return found
