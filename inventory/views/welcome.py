"""The first page of an empty studio."""

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from inventory.forms.accounts import AccountForm
from inventory.forms.sheet import Sheet
from inventory.forms.studio import NewStudioForm, WelcomeForm
from inventory.queries.records import what_is_missing
from studio.kit.welcome import check_welcome_key

from .saving import answer, sent, show

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
