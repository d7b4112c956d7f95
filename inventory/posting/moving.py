"""Moving a whole casting day to another time, with all that stands in its firing."""

from datetime import timedelta

from inventory.core.occupied import QUARTER, move_spans
from inventory.models import CastingDay
from inventory.queries.days import DaySheet, read_day
from inventory.queries.occupied import Taken, has_begun, spans_of

from .locking import studio_locked
from .refusal import Refused


def move_day(day: CastingDay, quarters: int, revision: int) -> CastingDay:
    """Move a whole day by so many quarter hours, as its page offered while it was at this `revision`.

    Raises Refused for a day that has begun or was changed meanwhile, and where it does not fit any more.
    """
    with studio_locked():
        sheet = read_day(day.pk)
        if sheet is None or not sheet.flasks:
            raise Refused("No flask is planned for this day any more.")
        day = sheet.day
        if has_begun(sheet):
            raise Refused("The work of this day has begun: it is not moved as a whole any more.")
        if day.revision != revision:
            raise Refused("This day was changed meanwhile. Look at its times again.")
        shift = quarters * QUARTER
        taken = Taken(day.wish_at + shift)
        _refuse_no_room(sheet, shift, taken)
        day.wish_at += shift
        # Calendars that took the day in already know by this that its lines are others.
        day.revision += 1
        day.save(update_fields=["wish_at", "revision"])
    return day


def _refuse_no_room(sheet: DaySheet, shift: timedelta, taken: Taken) -> None:
    """Refuse where the whole day, moved, would begin in the past or meet another."""
    mine = move_spans(spans_of(sheet), shift)
    if mine and min(span.begin for span in mine) < sheet.now:
        raise Refused(
            "Moved so far, it would have begun in the past. Look at the nearest time that is free again."
        )
    clashes = taken.compare(mine, sheet.day.pk, sheet.day.wish_at + shift, may_move=False)
    if clashes.lines:
        raise Refused(f"It does not fit there any more. {clashes.lines[0].sentence}")
