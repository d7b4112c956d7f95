"""How the studio does a casting day: allowances, the working time, the kiln, the night."""

from collections.abc import Iterator

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.core.investing import WorkingSplit, check_split
from inventory.forms.day_practice import DayPracticeForm
from inventory.forms.sheet import Sheet
from inventory.models import Material
from inventory.posting.setup import renew_days
from inventory.queries.schedules import days_to_come, powders_with_working_time
from inventory.queries.studio import current_practice, split_for
from studio.kit.units import SECONDS_PER_MINUTE

from .saving import alone, answer, sent, show


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_practice(request: HttpRequest) -> HttpResponse:
    """The studio's own practice; until it is saved once, common practice stands in it."""
    practice = current_practice()
    form = DayPracticeForm(sent(request), instance=practice)
    context = {
        "section": "setup",
        "is_new": practice._state.adding,
        "too_long": list(_find_too_long(split_for(practice), powders_with_working_time())),
    }
    sheet = Sheet(form)
    return answer(sheet, lambda: _save(request, form)) or show(
        request, "setup/day_practice.html", sheet, context
    )


def _save(request: HttpRequest, form: DayPracticeForm) -> str:
    form.save()
    renew_days(days_to_come())
    messages.success(request, "Saved. Plans from now on, and the times of days to come, follow it.")
    return reverse("inventory:day-practice")


def _find_too_long(split: WorkingSplit, powders: list[Material]) -> Iterator[str]:
    """A sentence for each powder that sets before the studio has done with it."""
    for powder in powders:
        for sentence in check_split(split, (powder.working_minutes or 0) * SECONDS_PER_MINUTE):
            yield f"{powder}: {sentence}"
