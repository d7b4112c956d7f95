"""Set-up: what the studio has and lacks, its own settings, and a starting point for a new one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms.sheet import Sheet
from inventory.forms.starters import StarterForm
from inventory.forms.studio import StudioSettingsForm
from inventory.queries.setup import next_step, setup_steps
from inventory.queries.studio import current_studio, studio_of

from .saving import alone, answer, sent, show


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


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_studio(request: HttpRequest) -> HttpResponse:
    """The studio's own settings."""
    form = StudioSettingsForm(sent(request), instance=current_studio())
    sheet = Sheet(form)
    context = {
        "title": "The studio and its scale",
        "list_address": reverse("inventory:setup"),
        "list_label": "Set-up",
        "save_label": "Save",
    }
    return answer(sheet, lambda: _save(request, f"Saved: {form.save()}.")) or show(
        request, "setup/record.html", sheet, context
    )


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def add_starters(request: HttpRequest) -> HttpResponse:
    """Common alloys and materials, all ticked: taken in with one press, each to be changed afterwards."""
    form = StarterForm(sent(request))
    sheet = Sheet(form)
    return answer(sheet, lambda: _save(request, form.save())) or show(request, "setup/starters.html", sheet)


def _save(request: HttpRequest, said: str) -> str:
    messages.success(request, said)
    return reverse("inventory:setup")
