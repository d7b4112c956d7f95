"""How the studio does a casting day: allowances, the working time, the kiln, the night."""

from collections.abc import Iterator

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory.core.investing import WorkingSplit, check_split
from inventory.forms.day_practice import DayPracticeForm
from inventory.models import Material
from inventory.queries.schedules import powders_with_working_time
from inventory.queries.studio import current_practice, split_for
from studio.kit.forms import list_mistakes
from studio.kit.units import SECONDS_PER_MINUTE

from .saving import alone


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_practice(request: HttpRequest) -> HttpResponse:
    """The studio's own practice; until it is saved once, common practice stands in it."""
    practice = current_practice()
    form = DayPracticeForm(request.POST if request.method == "POST" else None, instance=practice)
    is_new, split = practice._state.adding, split_for(practice)
    if form.is_bound and form.is_valid():
        try:
            form.save_practice()
        except IntegrityError:
            # Two people saved the first one at once: the row is there now, and this one is written over it.
            form.instance._state.adding = False
            form.save_practice()
        messages.success(request, "Saved. Plans from now on, and the times of days to come, follow it.")
        return redirect("inventory:day-practice")
    context = {
        "form": form,
        "mistakes": list_mistakes(form) if form.is_bound else [],
        "section": "setup",
        "is_new": is_new,
        "too_long": list(_find_too_long(split, powders_with_working_time())),
    }
    return render(request, "setup/day_practice.html", context)


def _find_too_long(split: WorkingSplit, powders: list[Material]) -> Iterator[str]:
    """A sentence for each powder that sets before the studio has done with it."""
    for powder in powders:
        for sentence in check_split(split, (powder.working_minutes or 0) * SECONDS_PER_MINUTE):
            yield f"{powder}: {sentence}"
