"""What every page that posts does alike: post once, and put a refusal beside the field it belongs to."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse

from inventory.posting.locking import studio_locked
from inventory.posting.once import post_once
from inventory.posting.refusal import Refused

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]


def alone(view: View[P]) -> View[P]:
    """Answer what is sent to this page while nobody else writes, so that what its form judges by stays true.

    For pages that save a record without a posting; a form with a one-time key waits in `post_once` instead.
    """

    @wraps(view)
    def answer(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        with studio_locked():
            return view(request, *args, **kwargs)

    return answer


def save_once(form: Any, act: Callable[[], str]) -> str:
    """Do `act`, which posts and returns the address of its result, once for the form's key.

    Returns the address, or "" when the posting was refused: the sentence then stands at the field of that
    name, or above the form, and nothing was changed.
    """
    try:
        return post_once(form.once_key, act)
    except Refused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        return ""


def signed_in_user(request: HttpRequest) -> User:
    """Who posts: pages that post are only for people who signed in."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - the middleware lets nobody else through
    return user
