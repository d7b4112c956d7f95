"""Reads of the studio's own settings, and of how it does a casting day."""

from typing import cast

from django.db import connection
from django.http import HttpRequest

from inventory.core.charge import ChargeRules
from inventory.core.investing import WorkingSplit, allocate_working_time
from inventory.models import DayPractice, Material, Studio
from studio.kit.units import SECONDS_PER_MINUTE

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


def current_practice() -> DayPractice:
    """The studio's practice, or the defaults while it has said nothing (not saved)."""
    return DayPractice.objects.first() or DayPractice(pk=1)


def split_for(practice: DayPractice, powder: Material | None = None) -> WorkingSplit:
    """The studio's own split of the working time; a quicker powder gets the same work in what its sheet gives."""
    split = WorkingSplit(practice.mix_s, practice.vacuum_bowl_s, practice.fill_s, practice.vacuum_flask_s)
    minutes = powder.working_minutes if powder else None
    if minutes and 0 < minutes * SECONDS_PER_MINUTE < split.total_s:
        split, _ = allocate_working_time(minutes * SECONDS_PER_MINUTE, split)
    return split
