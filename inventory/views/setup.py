"""Set-up: an empty studio's first page, what it has and lacks, settings, people, starters, a copy of it all."""

import tempfile
from pathlib import Path
from threading import Lock
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.contrib.auth.views import PasswordChangeView
from django.db import IntegrityError, connection
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, reverse, reverse_lazy
from django.views.decorators.cache import cache_control, never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.copies.keeping import DOUBTFUL, copy_name, write_copy
from inventory.forms.sheet import Sheet
from inventory.forms.starters import StarterForm
from inventory.forms.studio import (
    AccountForm,
    NewPasswordForm,
    NewStudioForm,
    StudioSettingsForm,
    WelcomeForm,
)
from inventory.queries.setup import every, next_step, next_wish, setup_steps, what_is_missing
from inventory.queries.studio import current_studio, studio_of
from inventory.tables.studio import PersonTable
from studio.kit.listing import ListingView
from studio.kit.tries import find_asker
from studio.kit.welcome import check_welcome_key

from .first_steps import find_form, go_on
from .saving import NAME_TAKEN, alone, answer, answer_record, sent, show

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
    if coming is None and (wish := next_wish(steps)):
        context |= {"wish": wish, "wish_address": find_form(wish)}
    if coming is not None:
        context["next_address"] = find_form(coming) or find_address(coming.address_name)
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
    back = reverse("inventory:setup"), "Set-up"
    return answer_record(
        request, form, lambda: _save(request, f"Saved: {form.save()}."), "The studio and its scale", back
    )


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def add_starters(request: HttpRequest) -> HttpResponse:
    """Common alloys and materials: all that belongs to a metal in one press, or one by one."""
    form = StarterForm(sent(request))
    sheet = Sheet(form)
    return answer(sheet, lambda: go_on(request, form.save(), reverse("inventory:setup"))) or show(
        request, "setup/starters.html", sheet
    )


def _save(request: HttpRequest, said: str) -> str:
    messages.success(request, said)
    return reverse("inventory:setup")


class PersonList(ListingView):
    title = "People who sign in"
    lead = "Each line in the book says who made it. Everybody here may do everything."
    queryset = every(User).order_by("username")
    table_class = PersonTable
    press = ("Add a person", "inventory:person-new")
    ways = (("Change your own password", "inventory:password"),)


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def add_person(request: HttpRequest) -> HttpResponse:
    form = AccountForm(sent(request))
    sheet = Sheet(form)
    taken = ("username", NAME_TAKEN[1])
    return answer(sheet, lambda: _add(request, form), taken) or show(request, "setup/person.html", sheet)


def _add(request: HttpRequest, form: AccountForm) -> str:
    messages.success(request, f"{form.save().username} may sign in now.")
    return reverse("inventory:person-list")


@require_http_methods(["GET", "HEAD"])
def show_person(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    return render(request, "setup/person_detail.html", {"person": person, "is_self": person == request.user})


@require_POST
def let_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Let somebody sign in no longer, or again. Nobody locks the door on themselves."""
    person = get_object_or_404(User, pk=pk)
    if person == request.user:
        messages.warning(request, "You cannot shut yourself out. Ask another person of the studio to do it.")
        return redirect("inventory:person-list")
    person.is_active = "again" in request.POST
    person.save(update_fields=["is_active"])
    done = "may sign in again" if person.is_active else "may no longer sign in"
    messages.success(request, f"{person.username} {done}.")
    return redirect("inventory:person-list")


class PasswordChange(PasswordChangeView):
    form_class = NewPasswordForm
    template_name = "setup/password.html"
    success_url = reverse_lazy("inventory:setup")

    def get_form_kwargs(self) -> dict[str, Any]:
        asker = find_asker(self.request, self.request.user.get_username())
        return {**super().get_form_kwargs(), "asker": asker}

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        messages.success(self.request, "Your password is changed.")
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        return show(self.request, self.template_name, Sheet(form), self.get_context_data(form=form))


# The registered type: https://www.iana.org/assignments/media-types/application/vnd.sqlite3
_TYPE = "application/vnd.sqlite3"
PROBLEMS_SHOWN = 20
# Four clicks would keep all threads of the server at it.
_one_at_a_time = Lock()


@cache_control(private=True, no_store=True)
@require_http_methods(["GET", "HEAD", "POST"])
def keep_copy(request: HttpRequest) -> HttpResponseBase:
    """Say what a copy is for; then make one, prove it, and hand it over. A doubtful one only when asked twice."""
    if request.method != "POST":
        return render(request, "setup/copy.html", {"set_first": _set_first()})
    if not _one_at_a_time.acquire(blocking=False):
        messages.warning(request, "A copy is being made just now. Try once more in a moment.")
        return redirect("inventory:copy")
    try:
        return _hand_over(request)
    finally:
        _one_at_a_time.release()


def _hand_over(request: HttpRequest) -> HttpResponseBase:
    settings.VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    # For its owner only, and gone when it is closed: after the last byte, or when the browser has hung up.
    draft = tempfile.NamedTemporaryFile(dir=settings.VAR_DIR, prefix=".draft-")  # noqa: SIM115 - the answer closes it
    try:
        problems = write_copy(Path(draft.name)).problems
        if not problems or "anyway" in request.POST:
            name = copy_name(DOUBTFUL if problems else "")
            return FileResponse(draft, as_attachment=True, filename=name, content_type=_TYPE)
    except BaseException:
        draft.close()
        raise
    draft.close()
    return _show_doubt(request, problems)


def _set_first() -> str:
    """What has to be set before a command finds this studio and not the one beside it; "" for the usual place."""
    if connection.vendor != "sqlite":
        return "DATABASE_URL=… "
    file = Path(connection.settings_dict["NAME"])
    return "" if file == settings.VAR_DIR / "studio.sqlite3" else f"STUDIO_DB={file} "


def _show_doubt(request: HttpRequest, problems: list[str]) -> HttpResponse:
    more = max(0, len(problems) - PROBLEMS_SHOWN)
    shown = {"problems": problems[:PROBLEMS_SHOWN], "more": more, "set_first": _set_first()}
    return render(request, "setup/copy.html", shown, status=409)
