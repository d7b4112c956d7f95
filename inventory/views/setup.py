"""Set-up: the first page of an empty studio, what it has and lacks, its settings, and a starting point."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms.accounts import AccountForm
from inventory.forms.sheet import Sheet
from inventory.forms.starters import StarterForm
from inventory.forms.studio import NewStudioForm, StudioSettingsForm, WelcomeForm
from inventory.queries.records import what_is_missing
from inventory.queries.setup import next_step, setup_steps
from inventory.queries.studio import current_studio, studio_of
from studio.kit.welcome import check_welcome_key

from .saving import alone, answer, sent, show

_Form = type[AccountForm] | type[NewStudioForm] | type[WelcomeForm]


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    """Name the studio and the first person; of the two only what is still missing.

    Who has no account yet needs the key that was printed when the studio was started.
    """
    lacks_studio, lacks_user = what_is_missing()
    if not lacks_studio and not lacks_user:
        return redirect("/")
    if not lacks_user and not request.user.is_authenticated:
        return redirect("sign-in")
    if lacks_user and not check_welcome_key(request.GET.get("key", "")):
        status = 403 if "key" in request.GET else 200
        return render(request, "setup/welcome_locked.html", {"wrong": "key" in request.GET}, status=status)
    form_class: _Form = WelcomeForm
    if not lacks_user:
        form_class = NewStudioForm
    elif not lacks_studio:
        form_class = AccountForm
    form = form_class(sent(request))
    sheet = Sheet(form)
    try:
        done = answer(sheet, lambda: _begin(form))
    except IntegrityError:
        # Two people filled in this page at once: the other was first.
        return redirect("/")
    if done is not None and isinstance(form, AccountForm):
        login(request, form.person)
    return done or show(request, "setup/welcome.html", sheet, {"asks_account": lacks_user})


def _begin(form: AccountForm | NewStudioForm | WelcomeForm) -> str:
    if isinstance(form, NewStudioForm):
        form.save_studio()
    if isinstance(form, AccountForm):
        form.save()
    return reverse("inventory:setup")


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
