"""Reads for the clock at the bench and for what was done when: the moments of one cast."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from inventory.core.investing import Phase, compute_phase_at, compute_phases
from inventory.models import Cast, CastMoment, ChecklistItem, Plan
from studio.kit.units import SECONDS_PER_MINUTE

from .days import items_for, read_day
from .studio import current_practice, split_for

Kind = CastMoment.Kind


@dataclass(frozen=True)
class Moments:
    """What was done for a cast, and when."""

    powder: CastMoment | None
    invested: CastMoment | None
    ticks: tuple[CastMoment, ...]
    metal: CastMoment | None = None
    poured: CastMoment | None = None

    @property
    def has_any(self) -> bool:
        return bool(self.powder or self.invested or self.ticks or self.metal or self.poured)

    @property
    def melt_s(self) -> int:
        """Seconds from the metal going in to the pour."""
        if self.metal is None or self.poured is None:
            return 0
        return max(0, (self.poured.at - self.metal.at) // timedelta(seconds=1))


def moments_of(cast: Cast) -> Moments:
    """One query."""
    found = list(cast.moments.select_related("by"))
    by_kind = {moment.kind: moment for moment in found}
    ticks = tuple(moment for moment in found if moment.kind == Kind.TICK)
    powder, invested, metal, poured = (
        by_kind.get(kind) for kind in (Kind.POWDER, Kind.INVESTED, Kind.METAL, Kind.POURED)
    )
    return Moments(powder, invested, ticks, metal, poured)


@dataclass(frozen=True)
class ClockLine:
    """One part of the working time on the page, in seconds from the powder in the water."""

    label: str
    start_s: int
    end_s: int

    @property
    def seconds(self) -> int:
        return self.end_s - self.start_s


@dataclass(frozen=True)
class BenchClock:
    """The clock of one cast at a moment of the server's. All times are whole seconds.

    `mixes` are the bowls that its flask is filled from: the flasks of each, milligrams of powder and of water.
    """

    cast: Cast
    plan: Plan | None
    moments: Moments
    phases: tuple[Phase, ...]
    working_s: int
    standing_minutes: int
    now: datetime
    mixes: tuple[tuple[str, int, int], ...] = ()

    @cached_property
    def lines(self) -> tuple[ClockLine, ...]:
        """The parts of the working time, and what of it is left after them."""
        lines = [ClockLine(phase.hand.value, phase.start_s, phase.end_s) for phase in self.phases]
        done_s = lines[-1].end_s if lines else 0
        if self.working_s > done_s:
            lines.append(ClockLine("time in hand", done_s, self.working_s))
        return tuple(lines)

    @property
    def elapsed_s(self) -> int:
        """From the powder in the water to the last vacuum, or to now."""
        if self.moments.powder is None:
            return 0
        end = self.moments.invested.at if self.moments.invested else self.now
        return max(0, (end - self.moments.powder.at) // timedelta(seconds=1))

    @cached_property
    def place(self) -> int | None:
        """The line that the clock stands in; None over the working time."""
        found = compute_phase_at(self.phases, self.elapsed_s)
        if found.phase is not None:
            return self.phases.index(found.phase)
        return len(self.phases) if self.elapsed_s < self.working_s else None

    @property
    def line(self) -> ClockLine | None:
        return None if self.place is None else self.lines[self.place]

    @property
    def following(self) -> ClockLine | None:
        after = None if self.place is None else self.place + 1
        return self.lines[after] if after is not None and after < len(self.lines) else None

    @property
    def left_s(self) -> int:
        return self.line.end_s - self.elapsed_s if self.line else 0

    @property
    def over_s(self) -> int:
        return max(0, self.elapsed_s - self.working_s)

    @property
    def stands_until(self) -> datetime | None:
        """When the flask may go into the kiln."""
        ended = self.moments.invested
        return ended.at + timedelta(minutes=self.standing_minutes) if ended else None


def read_clock(cast: Cast, now: datetime) -> BenchClock:
    """The moments, the plan with its day, the studio's practice: as many queries whatever the day holds."""
    practice = current_practice()
    plan = Plan.objects.select_related("powder", "day").filter(cast=cast).first()
    sheet = read_day(plan.day_id) if plan else None
    powder = plan.powder if plan else None
    split = split_for(practice, powder)
    minutes = powder.working_minutes if powder else None
    return BenchClock(
        cast=cast,
        plan=plan,
        moments=moments_of(cast),
        phases=compute_phases(split),
        working_s=minutes * SECONDS_PER_MINUTE if minutes else split.total_s,
        standing_minutes=plan.day.standing_minutes if plan else practice.standing_minutes,
        now=now,
        mixes=tuple(sheet.mixes_for(plan)) if plan and sheet else (),
    )


@dataclass(frozen=True)
class Check:
    """One line of the list before the pour; `tick` when it was ticked."""

    text: str
    tick: CastMoment | None


def list_checks(cast: Cast, moments: Moments, items: Sequence[ChecklistItem]) -> list[Check]:
    """The lines that apply to a cast; one that was ticked stays though the studio has taken it off its list."""
    ticked = {moment.text: moment for moment in moments.ticks}
    texts = dict.fromkeys([*items_for(cast.crucible, cast.pump, items), *ticked])
    return [Check(text, ticked.get(text)) for text in texts]
