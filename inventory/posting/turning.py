"""Writing of when a kiln was really turned, of a firing that has begun and not ended, of a lower hold, of calendars."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Protocol, TypeVar

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.models import Cast, CastingDay, Firing, KilnTurn, SentEvent
from inventory.queries.days import DaySheet, read_day
from studio.kit.printing import print_celsius, print_moment

from .casting_records import strike_out_firing
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .setup import renew_days

WEEK_MINUTES = 7 * 24 * 60
ENDED = "This kiln session has been recorded: its times stand."


class _Event(Protocol):
    @property
    def uid(self) -> str: ...

    @property
    def begins(self) -> datetime: ...


Taken = TypeVar("Taken", bound=_Event)


def note_turn(
    day: CastingDay,
    place: int,
    set_c: int,
    at: datetime,
    by: User | None = None,
    meter_wh: int | None = None,
    seen_c: int | None = None,
) -> bool:
    """Write down that the kiln was turned to a set point, to the whole minute that the clock showed.

    `seen_c` is where it stood then. Whether anything was written: the first press counts. With the meter's reading (Wh)
    as the kiln goes on its firing begins, in which the day's casts stand. Raises Refused for a time to come, one that
    is not between the turns before and after it, and a day whose firing is recorded.
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
        KilnTurn.objects.create(day=day, place=place, set_c=set_c, seen_c=seen_c, at=at, by=by)
        if place == 0 and meter_wh is not None and day.firing_id is None:
            _refuse_running(day, at)
            _begin_firing(day, at, meter_wh)
        renew_days(CastingDay.objects.filter(pk=day.pk))
        return True


def _refuse_running(day: CastingDay, at: datetime) -> None:
    """Two that run at once would each count what the meter of their kiln shows."""
    ended = Firing.objects.filter(kiln=day.kiln_id, begun_at__isnull=False, minutes__isnull=False)
    last = ended.order_by("-begun_at").first()
    if last is not None and last.off_at is not None and last.off_at > at:
        until = print_moment(timezone.localtime(last.off_at))
        raise Refused(
            f"{day.kiln} was in firing {last.pk} until {until}. Write a time that is no earlier.", "clock"
        )
    running = Firing.objects.filter(kiln=day.kiln_id, minutes=None).order_by("-begun_at").first()
    if running is not None and running.begun_at is not None:
        began = print_moment(timezone.localtime(running.begun_at))
        raise Refused(
            f"{day.kiln} is in a firing already, since {began}. End that one first, or leave this empty.",
            "meter",
        )


def _begin_firing(day: CastingDay, at: datetime, meter_wh: int) -> None:
    kiln = day.kiln
    day.firing = Firing.objects.create(
        kiln=kiln,
        day=timezone.localdate(at),
        begun_at=at,
        meter_before_wh=meter_wh,
        rated_w=kiln.rated_w,
        share_on_pct100=kiln.share_on_pct100,
    )
    day.save(update_fields=["firing"])
    Cast.objects.filter(plan__day=day, firing=None, closed_on=None).update(firing=day.firing)


def end_firing(firing: Firing, at: datetime, meter_wh: int | None = None) -> None:
    """The kiln was switched off: how long it ran, and the meter's reading (Wh) where somebody took it.

    Raises Refused for a firing that has ended, a time before it began, and a reading that cannot be.
    """
    with studio_locked():
        bring_up_to_date([firing])
        if firing.begun_at is None or not firing.is_running:
            raise Refused("This firing has ended already. Change it instead.")
        minutes = (at - firing.begun_at) // timedelta(minutes=1)
        if minutes < 1:
            began = print_moment(timezone.localtime(firing.begun_at))
            raise Refused(f"It went on {began}: write a time after that.", "clock")
        if minutes > WEEK_MINUTES:
            raise Refused(
                "It went on more than a week ago. Change the firing, and write how long it ran.", "clock"
            )
        if meter_wh is not None and firing.meter_before_wh is None:
            raise Refused("The meter was not read as the kiln went on: leave this empty.", "meter")
        if meter_wh is not None and meter_wh < (firing.meter_before_wh or 0):
            raise Refused("A meter does not run backwards. Look at both readings again.", "meter")
        firing.minutes, firing.meter_after_wh = minutes, meter_wh
        firing.save(update_fields=["minutes", "meter_after_wh"])


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
        turn = day.turns.filter(place=place).first()
        if turn is not None:
            turn.delete()
            # Only the firing that began by this turn: a cast of the day may stand in another that runs.
            if place == 0 and day.firing is not None and day.firing.begun_at == turn.at:
                day.firing.casts.update(firing=None)
                strike_out_firing(day.firing)
            renew_days(CastingDay.objects.filter(pk=day.pk))
        return turn is not None


def set_top(day: CastingDay, top_c: int | None) -> None:
    """Burn out no hotter than `top_c` on this day; None goes by the schedule again."""
    with studio_locked():
        _refuse_ended(day)
        if day.top_c != top_c:
            day.top_c = top_c
            day.revision += 1
            day.save(update_fields=["top_c", "revision"])


def take_events(
    pk: int, tell: Callable[[DaySheet, int], Sequence[Taken]]
) -> tuple[DaySheet | None, Sequence[Taken], list[SentEvent]]:
    """A casting day with its events, kept as a calendar takes them in now, and those that it took in and that are gone.

    All of one moment: what a file says must be kept before the day changes, or no later file would cancel it. `tell`
    lists the events of a day as of a revision. A melter that learnt, say, moves a day that nobody touched: then its
    revision grows now. None for a day that is not there.
    """
    with studio_locked():
        sheet = read_day(pk)
        if sheet is None:
            return None, (), []
        _renew_told(sheet.day, sha256(repr(tell(sheet, 0)).encode()).hexdigest())
        events = tell(sheet, sheet.day.revision)
        known = {one.uid: one for one in sheet.day.sent_events.all()}
        SentEvent.objects.bulk_create(
            SentEvent(day=sheet.day, uid=one.uid, at=one.begins) for one in events if one.uid not in known
        )
        coming = {one.uid for one in events}
        return sheet, events, [one for uid, one in known.items() if uid not in coming]


def _renew_told(day: CastingDay, digest: str) -> None:
    if day.told_digest == digest and day.told_revision == day.revision:
        return
    if day.told_digest not in ("", digest) and day.told_revision == day.revision:
        day.revision += 1
    day.told_digest, day.told_revision = digest, day.revision
    day.save(update_fields=["revision", "told_digest", "told_revision"])


def _refuse_ended(day: CastingDay) -> None:
    bring_up_to_date([day])
    if Firing.objects.filter(days=day, minutes__isnull=False).exists():
        raise Refused(ENDED)
