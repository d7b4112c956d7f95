"""Reads of the studio's own settings."""

from typing import cast

from django.db import connection
from django.http import HttpRequest

from inventory.core.charge import ChargeRules
from inventory.models import Studio

from .plain import plain_rows


class NotSetUp(Exception):
    """There is no studio in this database yet: the welcome page makes it."""


def current_studio(lock: bool = False) -> Studio:
    """The one studio. Raises NotSetUp when nobody has set it up; `lock` holds its row until the transaction ends."""
    can_lock = connection.features.has_select_for_update
    for studio in plain_rows(Studio, "ORDER BY id LIMIT 1" + (" FOR UPDATE" if lock and can_lock else "")):
        return studio
    raise NotSetUp("This studio is not set up yet.")


def charge_rules(per_mille: int, studio: Studio) -> ChargeRules:
    """What a charge of this fineness must keep here."""
    return ChargeRules(per_mille, studio.least_fresh_pct100, studio.most_melts_milli)


def studio_of(request: HttpRequest) -> Studio:
    """The studio of a page, asked for once in a request. There is one: the middleware sees to that."""
    return cast(Studio, request.studio)  # type: ignore[attr-defined]  # set by StudioMiddleware
