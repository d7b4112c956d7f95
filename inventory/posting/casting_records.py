"""Records of a cast that are not stock: its firing, time at the bench, and facts that were written wrong."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.models import BenchShare, BenchTime, Cast, CastingDay, Equipment, Firing, Piece, TreePart
from inventory.queries.kiln_logs import find_log
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import SECONDS_PER_MINUTE

from .kiln_logs import remove_log
from .locking import bring_up_to_date, studio_locked
from .refusal import Refused
from .setup import fire_days

MENDABLE = (
    "title",
    "day",
    "flask",
    "crucible",
    "machine",
    "pump",
    "firing",
    "water_mg",
    "metal_c",
    "flask_c",
    "vacuum_inhg_tenths",
    "pour_note",
    "note",
)


@dataclass(frozen=True)
class FiringRecord:
    """A kiln session to write down; the kiln's own rating and share are kept with it when there is no meter."""

    kiln: Equipment
    day: date
    minutes: int
    meter_before_wh: int | None = None
    meter_after_wh: int | None = None
    share_on_pct100: int | None = None


def record_firing(firing: Firing | FiringRecord | None) -> Firing | None:
    """The firing itself, written down now if it is new."""
    if firing is None:
        return None
    if not isinstance(firing, FiringRecord):
        # Somebody may have taken it out since it was chosen.
        bring_up_to_date([firing])
        return firing
    share = firing.share_on_pct100
    return Firing.objects.create(
        kiln=firing.kiln,
        day=firing.day,
        minutes=firing.minutes,
        meter_before_wh=firing.meter_before_wh,
        meter_after_wh=firing.meter_after_wh,
        rated_w=firing.kiln.rated_w,
        share_on_pct100=firing.kiln.share_on_pct100 if share is None else share,
    )


def assign_firing(cast: Cast, firing: Firing | FiringRecord | None) -> None:
    """Say in which firing the flask of a cast stood; several flasks may share one. Its casting day follows."""
    with studio_locked():
        cast.firing = record_firing(firing)
        cast.save(update_fields=["firing"])
        fire_days([cast.pk])


def strike_out_firing(firing: Firing) -> None:
    """Take out a firing that no cast stands in. A casting day that it was to be has not been fired then."""
    CastingDay.objects.filter(firing=firing).update(firing=None)
    if log := find_log(firing.pk):
        remove_log(log)
    firing.delete()


def mend_cast(cast: Cast, facts: Mapping[str, Any]) -> None:
    """Write facts of a cast anew that no stock hangs on. Raises KeyError for any other."""
    for name, value in facts.items():
        if name not in MENDABLE:
            raise KeyError(name)
        setattr(cast, name, value)
    cast.save(update_fields=list(facts))
    if "firing" in facts:
        fire_days([cast.pk])


def record_time(
    cast: Cast, day: date, minutes: int, what: str = "", piece: Piece | None = None, task: str = ""
) -> BenchTime:
    """Write down time at the bench, on a cast or on one piece of it."""
    return BenchTime.objects.create(cast=cast, piece=piece, day=day, minutes=minutes, what=what, task=task)


def record_tray(
    pieces: Sequence[Piece],
    day: date,
    minutes: int,
    task: str = "",
    what: str = "",
    basis: str = BenchTime.Basis.EQUALLY,
) -> BenchTime:
    """Write down time that was spent on a tray of pieces of one cast together: they share it to the second.

    Equally, or by their mass as cast, as `basis` says; "" is equally. Time on one piece alone is that piece's.
    """
    basis = basis or BenchTime.Basis.EQUALLY
    if len(pieces) == 1:
        return record_time(pieces[0].cast, day, minutes, what, pieces[0], task)
    weights = [piece.as_cast_mg if basis == BenchTime.Basis.MASS else 1 for piece in pieces]
    shares = allocate_largest_remainder(minutes * SECONDS_PER_MINUTE, weights)
    time = BenchTime.objects.create(
        cast=pieces[0].cast, day=day, minutes=minutes, task=task, what=what, basis=basis
    )
    BenchShare.objects.bulk_create(
        BenchShare(time=time, piece=piece, seconds=seconds)
        for piece, seconds in zip(pieces, shares, strict=True)
    )
    return time


def remove_time(time: BenchTime) -> None:
    """Take out time that was written down wrong: it is a record, not stock."""
    time.delete()


def remove_tree_part(part: TreePart) -> None:
    """Take out a part of a tree that came from no lot. Raises Refused when stock hangs on it."""
    if part.entry_id is not None:
        raise Refused("This part came from a lot: take its line in the book back instead.")
    part.void = True
    part.save(update_fields=["void"])
