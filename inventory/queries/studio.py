"""Reads of the studio's own settings."""

from typing import cast

from django.http import HttpRequest

from inventory.models import Studio


class NotSetUp(Exception):
    """There is no studio in this database yet: the welcome page makes it."""


def current_studio(lock: bool = False) -> Studio:
    """The one studio. Raises NotSetUp when nobody has set it up; `lock` holds its row until the transaction ends."""
    studios = Studio.objects.select_for_update() if lock else Studio.objects.all()
    studio = studios.first()
    if studio is None:
        raise NotSetUp("This studio is not set up yet.")
    return studio


def studio_of(request: HttpRequest) -> Studio:
    """The studio of a page, asked for once in a request. There is one: the middleware sees to that."""
    return cast(Studio, request.studio)  # type: ignore[attr-defined]  # set by StudioMiddleware
