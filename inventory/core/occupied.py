"""Things that are one at a time: what a casting day takes and when, where two days take the same, and when it fits.

A day keeps its hours wherever it is moved: only whole quarter hours are added to all of its moments alike, in UTC.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo
from enum import StrEnum

from studio.kit.printing import print_minutes, print_moment
from studio.kit.working import Given, Source, Step, Working, make_working

from .day_plan import MomentKind
from .timetable import Moment

#: What is done by hand at the kiln or the pour keeps a person so long: a guess of ours.
HAND_MINUTES = 5
HAND = timedelta(minutes=HAND_MINUTES)
QUARTER = timedelta(minutes=15)
#: A day is not moved farther than this by itself.
FARTHEST = timedelta(days=7)
INVESTING = (MomentKind.MIX, MomentKind.VACUUM_BOWL, MomentKind.FILL, MomentKind.VACUUM_FLASK)
_VACUUM = (MomentKind.VACUUM_BOWL, MomentKind.VACUUM_FLASK)


class ThingKind(StrEnum):
    KILN = "kiln"
    FLASK = "flask"
    CRUCIBLE = "crucible"
    MACHINE = "machine"
    PUMP = "pump"
    PERSON = "person"


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that can be in one place only; `key` tells it from others of its kind."""

    kind: ThingKind
    key: int = 0
    name: str = field(default="", compare=False)


PERSON = Thing(ThingKind.PERSON, name="whoever is at the bench")


@dataclass(frozen=True, slots=True)
class Span:
    """A thing that a day takes from a moment to a moment in UTC; the end is free again."""

    thing: Thing
    begin: datetime
    end: datetime
    day: int
    doing: str = ""

    def meets(self, other: "Span") -> bool:
        """Whether another day takes the same thing meanwhile."""
        is_other = self.thing == other.thing and self.day != other.day
        return is_other and max(self.begin, other.begin) < min(self.end, other.end)


@dataclass(frozen=True, slots=True)
class FlaskThings:
    """What one flask of a day takes: itself, and what it is melted in and poured with."""

    flask: Thing
    crucible: Thing | None = None
    machine: Thing | None = None
    pump: Thing | None = None


def list_spans(
    moments: Sequence[Moment], day: int, kiln: Thing, flasks: Sequence[FlaskThings]
) -> tuple[Span, ...]:
    """What a day takes, by its timetable; `flasks` in the order of its plan.

    The kiln from going on until the last flask is out, each flask from its mixing (or the kiln, where it is invested
    already) to its quench, crucible and machine from the metal going in until it is poured, the pump while it draws,
    and a person for each thing done by hand.
    """
    return tuple(span for span in _take(moments, day, kiln, flasks) if span.begin < span.end)


def _take(moments: Sequence[Moment], day: int, kiln: Thing, flasks: Sequence[FlaskThings]) -> Iterator[Span]:
    of = {kind: [moment.at for moment in moments if moment.kind == kind] for kind in MomentKind}
    on, pours = of[MomentKind.KILN_ON], of[MomentKind.OUT] or of[MomentKind.POUR]
    yield Span(kiln, on[0], pours[-1], day, "fired")
    drawing = [(begin, end) for moment, begin, end in _mixing(moments) if moment.kind in _VACUUM]
    invested = [begin for _, begin, _ in _mixing(moments)]
    own = {(moment.kind, moment.flask): moment.at for moment in moments}
    for place, things in enumerate(flasks):
        metal, pour, quench = (
            own.get((kind, place), of[kind][-1])
            for kind in (MomentKind.CRUCIBLE, MomentKind.POUR, MomentKind.QUENCH)
        )
        yield Span(things.flask, (invested or on)[0], quench, day, "invested, fired and poured")
        for thing in (things.crucible, things.machine):
            if thing is not None:
                yield Span(thing, metal, pour + HAND, day, "melted and poured with")
        if things.pump is not None:
            for begin, end in (*drawing, (pour, pour + HAND)):
                yield Span(things.pump, begin, end, day, "drawing")
    busy = [(begin, end) for _, begin, end in _mixing(moments)]
    busy += [(one.at, one.at + HAND) for one in moments if one.by_hand and one.kind not in INVESTING]
    for begin, end in _join(busy):
        yield Span(PERSON, begin, end, day, "at the bench")


def move_spans(spans: Iterable[Span], shift: timedelta) -> tuple[Span, ...]:
    return tuple(replace(span, begin=span.begin + shift, end=span.end + shift) for span in spans)


def _mixing(moments: Sequence[Moment]) -> Iterator[tuple[Moment, datetime, datetime]]:
    """What is done within the working time: each goes on until the next thing of the day."""
    for moment, following in zip(moments, moments[1:], strict=False):
        if moment.kind in INVESTING:
            yield moment, moment.at, following.at


def _join(stretches: Iterable[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """Stretches that overlap or touch, as one."""
    joined: list[tuple[datetime, datetime]] = []
    for begin, end in sorted(stretches):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return joined


def find_clashes(spans: Iterable[Span]) -> tuple[tuple[Span, Span], ...]:
    """Every two spans of different days that take one thing at once, the one that begins first at the front."""
    by_thing: dict[Thing, list[Span]] = defaultdict(list)
    for span in spans:
        if span.begin < span.end:
            by_thing[span.thing].append(span)
    found = []
    for of_thing in by_thing.values():
        running: list[Span] = []
        for span in sorted(of_thing, key=lambda one: (one.begin, one.day)):
            running = [one for one in running if one.end > span.begin]
            found += [(one, span) for one in running if one.day != span.day]
            running.append(span)
    return tuple(sorted(found, key=lambda pair: (pair[1].begin, pair[0].day, pair[1].day)))


@dataclass(frozen=True, slots=True)
class Clash:
    """A thing that a day wants and another has from a moment to a moment; `times` counts what meets."""

    thing: Thing
    day: int
    begin: datetime
    end: datetime
    times: int = 1


def list_clashes(mine: Sequence[Span], others: Sequence[Span]) -> tuple[Clash, ...]:
    """What of one day meets other days, for each thing and other day once.

    A person who would be in two places is told of only where no other thing of that day is wanted as well.
    """
    days = {span.day for span in mine}
    met: dict[tuple[int, Thing], list[Span]] = defaultdict(list)
    for first, second in find_clashes([*mine, *others]):
        theirs = [one for one in (first, second) if one.day not in days]
        if len(theirs) == 1:
            met[theirs[0].day, theirs[0].thing] += theirs
    bound = {day for day, thing in met if thing != PERSON}
    found = [
        Clash(thing, day, min(one.begin for one in spans), max(one.end for one in spans), len(set(spans)))
        for (day, thing), spans in met.items()
        if thing != PERSON or day not in bound
    ]
    order = tuple(ThingKind)
    return tuple(sorted(found, key=lambda one: (order.index(one.thing.kind), one.begin, one.day)))


def tell_clash(clash: Clash, whose: str, zone: tzinfo) -> str:
    """ "Front kiln is taken by Fern leaves from Sat 5 Dec, 06:10 to Sat 5 Dec, 18:45." """
    begin, end = (print_moment(at.astimezone(zone)) for at in (clash.begin, clash.end))
    if clash.thing != PERSON:
        return f"{clash.thing.name} is taken by {whose} from {begin} to {end}."
    if clash.times == 1:
        return f"Two things are to be done by hand at once: the other is for {whose}, on {begin}."
    return f"Things are to be done by hand for {whose} at the same time, {clash.times} times, the first on {begin}."


def tell_clashes(clashes: Sequence[Clash], whose: str, zone: tzinfo) -> str:
    """What one other day takes, in one breath: the first thing with its times, the others by name."""
    first, *rest = clashes
    *names, last = [clash.thing.name for clash in rest] or [""]
    named = f"{', '.join(names)} and {last}" if names else last
    others = f" So {'are' if names else 'is'} {named}." if rest else ""
    return tell_clash(first, whose, zone) + others


def tell_twice(thing: Thing, names: Sequence[str], begin: datetime, zone: tzinfo, more: int = 0) -> str:
    """ "Front kiln is wanted for Fern leaves and for Buds at once, from Sat 5 Dec, 06:10." """
    what = "By hand, two things are to be done" if thing == PERSON else f"{thing.name} is wanted"
    others = f"; and {more} more of the kind" if more else ""
    return (
        f"{what} for {' and for '.join(names)} at once, from {print_moment(begin.astimezone(zone))}{others}."
    )


@dataclass(frozen=True, slots=True)
class Blocked:
    """The shifts by which a day would meet others: open intervals, in order, apart from each other."""

    intervals: tuple[tuple[timedelta, timedelta], ...]

    def holds(self, shift: timedelta) -> bool:
        return any(low < shift < high for low, high in self.intervals)

    def next_free(self, shift: timedelta) -> timedelta:
        """The least shift by whole quarter hours, not before `shift`, that meets nothing."""
        free = round_up_to_quarter(shift)
        for low, high in self.intervals:
            if low < free < high:
                free = round_up_to_quarter(high)
        return free

    def last_free(self, shift: timedelta) -> timedelta:
        """The greatest, not after `shift`."""
        free = -round_up_to_quarter(-shift)
        for low, high in reversed(self.intervals):
            if low < free < high:
                free = -round_up_to_quarter(-low)
        return free


def round_up_to_quarter(shift: timedelta) -> timedelta:
    """The shift itself, or up to the next whole quarter hour."""
    return -(-shift // QUARTER) * QUARTER


def find_blocked(mine: Sequence[Span], others: Sequence[Span]) -> Blocked:
    """By how much a day may not be moved: each of its spans past each of the same thing on other days."""
    by_thing: dict[Thing, list[Span]] = defaultdict(list)
    for span in others:
        by_thing[span.thing].append(span)
    pairs = ((span, other) for span in mine for other in by_thing[span.thing] if other.day != span.day)
    joined: list[tuple[timedelta, timedelta]] = []
    for low, high in sorted((other.begin - span.end, other.end - span.begin) for span, other in pairs):
        # What only touches leaves one shift free between the two.
        if joined and low < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        elif low < high:
            joined.append((low, high))
    return Blocked(tuple(joined))


def find_free_shift(
    mine: Sequence[Span], others: Sequence[Span], now: datetime, farthest: timedelta = FARTHEST
) -> timedelta | None:
    """The least move by whole quarter hours after which a day meets no other, and that begins not before now.

    Of one earlier and one later by as much, the later. None where there is none within `farthest` either way.
    """
    if not mine:
        return None
    blocked, least = find_blocked(mine, others), now - min(span.begin for span in mine)
    later = blocked.next_free(max(timedelta(0), least))
    earlier = blocked.last_free(timedelta(0))
    found = [shift for shift in (later, earlier) if least <= shift and abs(shift) <= farthest]
    return min(found, key=abs, default=None)


def explain_free(
    clashes: Sequence[Clash], wish_at: datetime, shift: timedelta, zone: tzinfo, now: datetime
) -> Working:
    """How the nearest time that is free was found."""
    way = "later" if shift > timedelta(0) else "earlier"
    much = print_minutes(abs(shift) // timedelta(minutes=1))
    taken = [
        Given(
            clash.thing.name,
            f"{print_moment(clash.begin.astimezone(zone))} to {print_moment(clash.end.astimezone(zone))}",
            "the other day's timetable",
        )
        for clash in clashes
    ]
    return make_working(
        "The nearest time that is free",
        "the least move of the whole day by quarter hours, not before now, after which nothing is wanted twice",
        Given("the day as it is wished", print_moment(wish_at.astimezone(zone)), "the plan"),
        *taken,
        Given("each thing done by hand", print_minutes(HAND_MINUTES), "a guess of ours"),
        Given("now", print_moment(now.astimezone(zone)), "the clock"),
        Step(f"{much} {way}", print_moment((wish_at + shift).astimezone(zone))),
        source=Source.COMMON_PRACTICE,
        notes=("The kiln is free when the last flask is out. How far it must cool first is yours to judge.",),
    )
