"""Set-up: what the studio has and lacks, its own settings, and a starting point for a new one."""

from typing import Any

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms.starters import StarterForm
from inventory.forms.studio import StudioSettingsForm
from inventory.models import Studio
from inventory.queries.setup import next_step, setup_steps
from inventory.queries.studio import current_studio, studio_of

from .records import RecordUpdate
from .saving import alone


@require_safe
def show_setup(request: HttpRequest) -> HttpResponse:
    steps = setup_steps(studio_of(request))
    coming = next_step(steps)
    lines = [{"step": step, "address": find_address(step.address_name)} for step in steps]
    context: dict[str, Any] = {"lines": lines, "next": coming}
    if coming is not None:
        context["next_address"] = find_address(coming.address_name)
        if coming.title in ("Alloys", "Materials"):
            context["starters"] = StarterForm()
    return render(request, "setup/setup.html", context)


def find_address(name: str) -> str:
    """The address of that name, or "" while there is no such page."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


class StudioEdit(RecordUpdate):
    """The studio's own settings."""

    form_class = StudioSettingsForm
    title = "The studio and its scale"
    list_name = "inventory:setup"
    list_label = "Set-up"

    def get_object(self, queryset: Any = None) -> Studio:
        return current_studio()


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def add_starters(request: HttpRequest) -> HttpResponse:
    """Common alloys and materials, all ticked: taken in with one press, each to be changed afterwards."""
    form = StarterForm(request.POST or None)
    if form.is_valid():
        try:
            messages.success(request, form.save())
        except IntegrityError:
            messages.warning(request, "Some of these were added a moment ago: look at what is here now.")
        return redirect("inventory:setup")
    return render(request, "setup/starters.html", {"form": form})
