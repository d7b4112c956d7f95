"""Writing of when a kiln was really turned, of a lower hold that was chosen, and of what a calendar took in."""

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.models import CastingDay, KilnTurn, SentEvent
from studio.kit.printing import print_celsius, print_moment

from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .setup import renew_days

ENDED = "This kiln session has been recorded: its times stand."


def note_turn(day: CastingDay, place: int, set_c: int, at: datetime, by: User | None = None) -> bool:
    """Write down that the kiln was turned to a set point, to the whole minute that the clock showed.

    Whether anything was written: the first press counts. Raises Refused for a time to come, one that is not between
    the turns before and after it, and a day whose firing is recorded.
    """
    at = at.replace(second=0, microsecond=0)
    with studio_locked():
        _refuse_ended(day)
        # What was turned by another schedule counts for nothing any more, and keeps no place.
        day.turns.filter(place=place).exclude(set_c=set_c).delete()
        if day.turns.filter(place=place).exists():
            return False
        if at > timezone.now():
            raise Refused("That time is still to come. Write when it was turned.", "clock")
        _refuse_order(day, place, at)
        KilnTurn.objects.create(day=day, place=place, set_c=set_c, at=at, by=by)
        renew_days(CastingDay.objects.filter(pk=day.pk))
        return True


def _refuse_order(day: CastingDay, place: int, at: datetime) -> None:
    before = day.turns.filter(place__lt=place, at__gt=at).order_by("-at").first()
    after = day.turns.filter(place__gt=place, at__lt=at).order_by("at").first()
    for other, way in ((before, "earlier"), (after, "later")):
        if other is not None:
            when = print_moment(timezone.localtime(other.at))
            said = f"It was set to {print_celsius(other.set_c)} on {when}"
            raise Refused(f"{said}. Write a time that is no {way}.", "clock")


def take_back_turn(day: CastingDay, place: int) -> bool:
    """Take out a turn that was written down by mistake; whether there was one."""
    with studio_locked():
        _refuse_ended(day)
        taken, _ = day.turns.filter(place=place).delete()
        if taken:
            renew_days(CastingDay.objects.filter(pk=day.pk))
        return bool(taken)


def set_top(day: CastingDay, top_c: int | None) -> None:
    """Burn out no hotter than `top_c` on this day; None goes by the schedule again."""
    with studio_locked():
        _refuse_ended(day)
        if day.top_c != top_c:
            day.top_c = top_c
            day.revision += 1
            day.save(update_fields=["top_c", "revision"])


def remember_events(day: CastingDay, events: Iterable[tuple[str, datetime]]) -> None:
    """Keep which events a calendar takes in now, by their names in all the world."""
    known = set(day.sent_events.values_list("uid", flat=True))
    new = [SentEvent(day=day, uid=uid, at=at) for uid, at in events if uid not in known]
    if new:
        # Another phone may take the same file in at the same moment.
        SentEvent.objects.bulk_create(new, ignore_conflicts=True)


def _refuse_ended(day: CastingDay) -> None:
    bring_up_to_date([day])
    if day.firing_id is not None:
        raise Refused(ENDED)
