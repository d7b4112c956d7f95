"""One firing: its energy, its casts, and the kiln as a thermocouple saw it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.core.kiln_log import tell_odd
from inventory.forms.kiln_logs import KilnLogForm
from inventory.forms.sheet import Sheet
from inventory.forms.turning import EndForm, read_clock
from inventory.models import Firing
from inventory.posting.casting_records import strike_out_firing
from inventory.posting.kiln_logs import keep_log, remove_log
from inventory.posting.turning import end_firing as post_end
from inventory.queries.firing import KilnRecords, estimate_firing, firings
from inventory.queries.kiln_logs import find_log, learnt_of, log_of
from studio.kit.views import or_404

from .saving import alone, answer, sent, show, signed_in_user


@require_safe
def show_firing(request: HttpRequest, pk: int) -> HttpResponse:
    firing = get_object_or_404(firings(), pk=pk)
    return _show(request, firing, Sheet(KilnLogForm()))


def _show(request: HttpRequest, firing: Firing, sheet: Sheet, **more: Any) -> HttpResponse:
    """The page with the form that was sent as it was sent, and the other as it opens."""
    form = sheet.form
    forms = {
        "log_form": form if isinstance(form, KilnLogForm) else KilnLogForm(),
        "end_form": form if isinstance(form, EndForm) else EndForm(),
    }
    return show(request, "firing/firing.html", sheet, {**_read_firing(firing), **forms, **more})


@require_POST
@alone
def end_firing(request: HttpRequest, pk: int) -> HttpResponse:
    """The kiln is off: what its firing took."""
    firing = get_object_or_404(firings(), pk=pk)
    form = EndForm(request.POST)
    sheet = Sheet(form)

    def end() -> str:
        post_end(firing, read_clock(form, timezone.now()), form.cleaned_data["meter"])
        messages.success(request, "The firing is ended.")
        return reverse("inventory:firing-detail", args=[pk])

    return answer(sheet, end) or _show(request, firing, sheet)


def _read_firing(firing: Firing) -> dict[str, Any]:
    casts = firing.casts.select_related("alloy", "flask").order_by("number")
    records = KilnRecords([firing.kiln_id], firing.day, firing.day)
    estimate = estimate_firing(firing)
    return {
        "firing": firing,
        "energy": records.energy_of(firing),
        "is_metered": firing.meter_before_wh is not None and firing.meter_after_wh is not None,
        "estimate": None if estimate.problem else estimate,
        # Its own reading counts too, so that the page of the newest firing tells how the kiln stands today.
        "correction": records.correction(firing.kiln_id, (firing.day, firing.pk + 1)),
        "casts": casts,
        "shown": log_of(firing),
        "learnt": learnt_of(firing.kiln),
    }


@require_http_methods(["GET", "HEAD", "POST"])
def take_log(request: HttpRequest, pk: int) -> HttpResponse:
    """Take in the log of a firing's thermocouple, or show the firing again with what is wrong with it."""
    firing = get_object_or_404(firings(), pk=pk)
    form = KilnLogForm(sent(request), request.FILES if request.method == "POST" else None)
    sheet = Sheet(form)

    def save() -> str:
        keep_log(firing, form.name, form.log, signed_in_user(request))
        odd = " ".join(tell_odd(form.log.odd_lines, form.log.first_odd))
        messages.success(request, f"The log is kept. {form.log.how} {odd}".strip())
        return reverse("inventory:firing-detail", args=[firing.pk])

    return answer(sheet, save) or _show(request, firing, sheet, is_asked=True)


@require_POST
@alone
def take_log_out(request: HttpRequest, pk: int) -> HttpResponse:
    log = or_404(find_log(pk), "This firing has no log.")
    remove_log(log)
    messages.success(request, "The log is taken out. Days to come go by the others.")
    return redirect("inventory:firing-detail", pk)


@require_POST
@alone
def remove_firing(request: HttpRequest, pk: int) -> HttpResponse:
    """Strike out a firing written down by mistake, while no cast is in it."""
    firing = get_object_or_404(Firing, pk=pk)
    if firing.casts.exists():
        messages.warning(request, "Casts are in this firing. Untick them first, then take it out.")
        return redirect("inventory:firing-edit", pk)
    strike_out_firing(firing)
    messages.success(request, "The firing is taken out.")
    return redirect("inventory:firing-list")
