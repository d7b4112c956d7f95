"""The list of casts, and the page of one: its next step open and large; once closed, where its metal went."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.casting import STEPS
from inventory.core.vacuum import compute_vacuum_share, tell_vacuum
from inventory.filters import CastFilter
from inventory.forms.casting import FactsForm
from inventory.forms.casting_sums import LiveSums, Weighed, add_up, read_portions, read_weighed
from inventory.forms.sheet import Sheet
from inventory.models import Cast, Entry, Equipment
from inventory.posting.casting import post_start
from inventory.posting.casting_records import remove_time, remove_tree_part
from inventory.posting.refusal import Refused
from inventory.queries.bench_clock import moments_of
from inventory.queries.casting import casts_with_grams, with_steps
from inventory.queries.casting_choices import read_studio_choices
from inventory.queries.casting_page import CastPage, powder_before, read_cast_page
from inventory.queries.meeting import Care, care_for
from inventory.queries.pictures import pictures_around
from inventory.queries.studio import current_practice, studio_of
from inventory.tables.casting import CastTable
from studio.kit.charts import gram_bar
from studio.kit.models import only_one

from .casting_actions import CAST_ACTIONS, find_or_404
from .labelled import LabelledList
from .saving import alone, answer, sent, show, signed_in_user


class CastList(LabelledList):
    template_name = "casting/cast_list.html"
    title = "Casts"
    lead = "One flask poured once. The bar is as wide as the charge: pieces, back to the tin, filings and spill, lost."
    press = ("Record a cast", "inventory:cast-record")
    table_class = CastTable
    filterset_class = CastFilter
    labels = "cast"

    def get_queryset(self) -> Any:
        return with_steps(casts_with_grams()).order_by("-number")


@require_http_methods(["GET", "HEAD", "POST"])
def start_cast(request: HttpRequest) -> HttpResponse:
    """Begin a cast that will be recorded step by step."""
    form = FactsForm(sent(request), choices=read_studio_choices())
    sheet = Sheet(form)
    return answer(sheet, lambda: _start(request, form)) or show(request, "casting/start.html", sheet)


def _start(request: HttpRequest, form: FactsForm) -> str:
    cast = post_start(form.facts(), signed_in_user(request))
    messages.success(request, f"Cast {cast.number} is begun.")
    return reverse("inventory:cast-detail", args=[cast.number])


_GRAPHITE = Equipment.CrucibleMaterial.GRAPHITE


@require_http_methods(["GET", "HEAD", "POST"])
def show_cast(request: HttpRequest, number: int, step: str = "") -> HttpResponse:
    """A cast; with `step`, that step or addition open. A POST saves what is open."""
    page = read_cast_page(find_or_404(number), studio_of(request))
    turned_away = CAST_ACTIONS.turn_away(request, page, step) if step else None
    if turned_away is not None:
        return turned_away
    opened = step or page.next_step
    sheet, sums = None, None
    if opened:
        sheet = CAST_ACTIONS[opened].make(page, sent(request) if step else None)
        # Added up before the posting can refuse anything, for a refused figure is no longer among the clean ones.
        sums = _sums(page, opened, sheet)
        done = CAST_ACTIONS.answer(request, number, opened, sheet)
        if done is not None:
            return done
    return show(request, "casting/cast.html", sheet, _context(page, opened) | {"sums": sums})


def _context(page: CastPage, opened: str) -> dict[str, Any]:
    cast, grams = page.cast, page.grams
    care = _care(page) if opened in ("charge", "pour") else Care()
    return {
        "cast": cast,
        "page": page,
        "pictures": pictures_around(cast),
        "labels_address": f"{reverse('inventory:labels', args=['cast'])}?only={cast.number}",
        "pictures_address": reverse("inventory:picture-list", args=["cast", cast.number]),
        "opened": opened,
        "action": CAST_ACTIONS[opened] if opened else None,
        "open_address": _address(cast, opened) if opened else "",
        "steps": [
            {
                "step": step,
                "action": CAST_ACTIONS[step],
                "address": _address(cast, step),
                "is_done": step in page.done,
                "is_open": step == opened,
            }
            for step in STEPS
        ],
        "moments": moments_of(cast),
        **_tell_vacuum(cast),
        "melt_cautions": care.cautions,
        "meeting": care.meeting,
        "powder_before": powder_before(cast) if opened == "powder" else None,
        "picture": gram_bar(grams.pieces_mg, grams.back_mg, grams.filings_mg, grams.lost_mg)
        if cast.is_closed
        else None,
        "flux_caution": "flux" if opened in ("charge", "pour") and _is_graphite(cast) else "",
        "can_remove": not cast.is_closed and not CAST_ACTIONS["remove"].why_not(page),
        "close_entry": next(iter(page.standing(Entry.Kind.CLOSE)), None),
    }


def _tell_vacuum(cast: Cast) -> dict[str, Any]:
    """What was read, beside what the air at the studio's height allows, and how that comes about."""
    read = cast.vacuum_inhg_tenths
    if read is None:
        return {}
    altitude_m = current_practice().altitude_m
    working = None if altitude_m is None else compute_vacuum_share(read, altitude_m)[1]
    return {"vacuum": tell_vacuum(read, altitude_m), "vacuum_working": working}


def _is_graphite(cast: Cast) -> bool:
    return cast.crucible is not None and cast.crucible.crucible_material == _GRAPHITE


def _care(page: CastPage) -> Care:
    cast = page.cast
    return care_for(cast.alloy, cast.crucible, [line.source.lot for line in page.charge], but=cast)


def _address(cast: Cast, step: str) -> str:
    return reverse(f"inventory:cast-{step}", args=[cast.number])


def _sums(page: CastPage, opened: str, sheet: Sheet) -> LiveSums | None:
    """What the charge and the weights come to so far, beside the forms that change them."""
    if opened not in ("charge", "weights"):
        return None
    portions, weighed = list(page.portions), Weighed()
    problems: list[str] = []
    if sheet.form.is_bound and opened == "charge":
        more, problems = read_portions(sheet.rows["charge"], page.cast.alloy.metal)
        portions += more
    elif sheet.form.is_bound:
        weighed = read_weighed(sheet.form, sheet.rows["pieces"])
    return add_up(page.cast.alloy, page.studio, portions, problems, weighed)


@require_POST
@alone
def take_out_time(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Take out time at the bench that was written down wrong."""
    time = only_one(find_or_404(number).bench_times.filter(pk=pk))
    if time is None:
        raise Http404
    piece_id = time.piece_id
    remove_time(time)
    messages.success(request, "The time is taken out.")
    if piece_id and "piece" in request.POST:
        return redirect("inventory:piece-detail", piece_id)
    return redirect("inventory:cast-detail", number)


@require_POST
@alone
def take_out_tree_part(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Take out a part of the tree that came from no lot."""
    part = only_one(find_or_404(number).tree_parts.filter(pk=pk, void=False))
    if part is None:
        raise Http404
    try:
        remove_tree_part(part)
        messages.success(request, "That part of the tree is taken out.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("inventory:cast-detail", number)
