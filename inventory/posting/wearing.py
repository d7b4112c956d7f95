"""Writing down that something worn was replaced."""

from datetime import date

from django.contrib.auth.models import User

from inventory.models import Replacement, WearingPart
from inventory.queries.wearing import used_by
from studio.kit.printing import print_day

from .locking import bring_up_to_date, studio_locked
from .refusal import Refused


def write_replacement(
    part: WearingPart, day: date, was_worn_out: bool = True, note: str = "", by: User | None = None
) -> Replacement:
    """The part is new from that day on. Raises Refused where it was new only after that day, or replaced on it."""
    with studio_locked():
        bring_up_to_date([part])
        if day < part.new_on:
            raise Refused("It was new after that. Choose a later day.", "day")
        # Two people who write down the same one would teach that a part lasts no time at all.
        if part.replacements.filter(day=day).exists():
            raise Refused(
                f"That it was replaced on {print_day(day, with_year=True)} is written down already.", "day"
            )
        made = part.replacements.create(
            new_on=part.new_on,
            day=day,
            used=used_by(part, day),
            was_worn_out=was_worn_out,
            note=note,
            replaced_by=by,
        )
        _set_new_on(part, day)
        return made


def take_back_replacement(part: WearingPart) -> Replacement | None:
    """The newest one was written by mistake: the part is as old again as it was before. None where there is none."""
    with studio_locked():
        bring_up_to_date([part])
        newest = part.replacements.first()
        if newest is not None:
            newest.delete()
            _set_new_on(part, newest.new_on)
        return newest


def _set_new_on(part: WearingPart, day: date) -> None:
    part.new_on = day
    part.save(update_fields=["new_on"])
