"""Answering a sheet that was sent in: posted once, refused beside its field, or shown again with another line."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from inventory.forms.sheet import Sheet
from inventory.models import Studio
from inventory.posting.once import post_once
from inventory.posting.refusal import Refused
from studio.kit.rows import answer_in_place

REFUSED = 422


def studio_of(request: HttpRequest) -> Studio:
    """The studio that the middleware found: there is always one where a page is shown."""
    studio: Studio = request.studio  # type: ignore[attr-defined]  # set by StudioMiddleware
    return studio


def answer(sheet: Sheet, act: Callable[[], str]) -> HttpResponse | None:
    """Post a sheet once and lead on to the result, or give a line in place; None to show the page again.

    `act` posts and returns an address. What it refuses stands beside its field, and nothing was changed.
    """
    if sheet.asks_for_row:
        sheet.hold_judgement()
        return answer_in_place(*sheet.rows.values())
    if not sheet.is_valid():
        return None
    form: Any = sheet.form
    try:
        return HttpResponseRedirect(post_once(form.once_key, act))
    except Refused as refused:
        sheet.refuse(refused)
        return None


def status_of(sheet: Sheet) -> int:
    """A page shown again because something is to be mended says so to programs too."""
    return REFUSED if sheet.form.is_bound and not sheet.asks_for_row else 200
