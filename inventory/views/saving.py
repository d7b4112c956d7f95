"""What every page that posts does alike: post once, and put a refusal beside the field it belongs to."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest

from inventory.posting.once import post_once
from inventory.posting.refusal import Refused


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
