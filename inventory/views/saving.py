"""The one way to answer a form: saved once, refused beside its field, or shown again with another line.

sheet = Sheet(HandedInForm(sent(request)))
return answer(sheet, lambda: _save(request, sheet)) or show(request, "stock/handed_in.html", sheet)
"""

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, Concatenate, ParamSpec

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from inventory.forms.sheet import Sheet
from inventory.posting.locking import studio_locked
from inventory.posting.once import post_once
from inventory.posting.refusal import Refused
from studio.kit.rows import answer_in_place

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]

REFUSED = 422
NAME_TAKEN = ("name", "This name is already in use. Write another.")


def alone(view: View[P]) -> View[P]:
    """Answer what is sent to this page while nobody else writes, so that what its form judges by stays true.

    For pages that save a record without a posting; a form with a one-time key waits in `post_once` instead.
    """

    @wraps(view)
    def answer_alone(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        with studio_locked():
            return view(request, *args, **kwargs)

    return answer_alone


def sent(request: HttpRequest) -> Any:
    """What was sent in to be saved; None where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def answer(
    sheet: Sheet, save: Callable[[], str], taken: tuple[str, str] | None = None
) -> HttpResponse | None:
    """Save what was sent in and lead on to the result, or give a line in place; None to show the page.

    `save` returns an address. It is done once for the form's key, if the form has one. What it refuses stands
    beside its field, and nothing was changed. `taken` is the field and the sentence for a record that somebody
    else wrote down between the check and the save.
    """
    form = sheet.form
    if not form.is_bound:
        return None
    if sheet.asks_for_row:
        sheet.hold_judgement()
        return answer_in_place(*sheet.rows.values())
    if not sheet.is_valid():
        return None
    try:
        if "once" in form.fields:
            return HttpResponseRedirect(post_once(form.once_key, save))
        with transaction.atomic():
            return HttpResponseRedirect(save())
    except Refused as refused:
        sheet.refuse(refused)
    except IntegrityError:
        if taken is None:
            raise
        form.add_error(*taken)
    return None


def show(
    request: HttpRequest, template: str, sheet: Sheet | None, context: Mapping[str, Any] | None = None
) -> HttpResponse:
    """The page of a sheet. One that is shown again because something is to be mended says so to programs too."""
    if sheet is None:
        return render(request, template, context)
    own = {"sheet": sheet, "form": sheet.form, "mistakes": sheet.mistakes, **sheet.rows}
    is_refused = sheet.form.is_bound and not sheet.asks_for_row
    return render(request, template, {**own, **(context or {})}, status=REFUSED if is_refused else 200)


def signed_in_user(request: HttpRequest) -> User:
    """Who posts: pages that post are only for people who signed in."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - the middleware lets nobody else through
    return user
