"""What in the record of a cast may go with a failed one: each splits casts in two by a rule that is told.

Temperatures are whole degrees C, times minutes, vacuum tenths of inHg, melts thousandths, shares hundredths of a per
cent. None: nobody wrote it down, and such a cast does not count for what needs it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from studio.kit.printing import (
    print_celsius,
    print_decimal,
    print_melts,
    print_minutes,
    print_percent,
)
from studio.kit.units import PCT100_WHOLE, divide_half_up

from .heat import Heats, print_range
from .odds import Split
from .weighing import compute_share_pct100

#: Below so much of the studio's usual vacuum it is low. Our own judgement.
LOW_VACUUM_PCT = 90
#: A crucible counts as new for so many melts. Our own judgement.
NEW_CRUCIBLE_POURS = 3
#: A firing counts as short below so much of its schedule: a kiln is not switched off to the minute.
SHORT_FIRING_PCT = 95
#: Standing is known from taps on the way and the hours of the firing, so only what is much too short counts.
SHORT_STANDING_PCT = 75
#: Powder counts as old once so much of its days is gone. Our own judgement: past its last day it is not taken at all.
OLD_POWDER_PCT = 75
#: Melts of a charge count as many above so much of what the studio allows for metal: a charge that is half fresh
#: comes to half of it at most.
MANY_MELTS_PCT = 25


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the studio's casts are split by: its usual vacuum, and its own rules for metal."""

    usual_vacuum_tenths: int | None = None
    least_fresh_pct100: int = 5_000
    most_melts_milli: int = 4_000

    @property
    def many_melts_milli(self) -> int:
        return self.most_melts_milli * MANY_MELTS_PCT // 100


class Recorded(NamedTuple):
    """What was written down of one cast that bears on how it came out.

    `melted` adds up the melts behind each portion of its charge, in thousandths, times its milligrams; `crucible_melts`
    is what its crucible had melted before.
    `poured_before` counts the flasks of its firing that were recorded before it.
    `powder_gone_pct` is how much of its powder's days was gone when it was mixed, of the oldest; `powder_spoilt`: some
    was damp or did not set in its time by then, None where no powder was written down.
    """

    number: int = 0
    failed: bool = False
    heats: Heats = Heats()
    vacuum_tenths: int | None = None
    metal_c: int | None = None
    flask_c: int | None = None
    fired_minutes: int | None = None
    schedule_minutes: int | None = None
    stood_minutes: int | None = None
    standing_minutes: int | None = None
    poured_before: int | None = None
    powder_gone_pct: int | None = None
    powder_spoilt: bool | None = None
    charge_mg: int = 0
    fresh_mg: int = 0
    melted: int = 0
    crucible_melts: int | None = None
    crucible_life: int | None = None


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing in the record: its name, the rule in words, whether a cast has it, how that is said, what to change."""

    name: str
    rule: Callable[[Bounds], str]
    holds: Callable[[Recorded, Bounds], bool | None]
    words: Callable[[Recorded, Bounds], str]
    advice: str


def split_casts(factor: Factor, casts: Iterable[Recorded], bounds: Bounds) -> Split:
    """The casts of which it is known, in two."""
    counts = {(holds, failed): 0 for holds in (True, False) for failed in (True, False)}
    for cast in casts:
        holds = factor.holds(cast, bounds)
        if holds is not None:
            counts[holds, cast.failed] += 1
    return Split(counts[True, True], counts[True, False], counts[False, True], counts[False, False])


def is_vacuum_low(vacuum_tenths: int | None, usual_tenths: int | None) -> bool | None:
    if not vacuum_tenths or not usual_tenths:
        return None
    return vacuum_tenths * 100 < usual_tenths * LOW_VACUUM_PCT


def say_low_vacuum(vacuum_tenths: int, usual_tenths: int) -> str:
    return f"the vacuum was low, {_inhg(vacuum_tenths)} inHg where {_inhg(usual_tenths)} is usual"


def _inhg(tenths: int) -> str:
    return print_decimal(tenths, 1, most=1)


def is_outside(reading_c: int | None, least_c: int | None, most_c: int | None) -> bool | None:
    """Whether a reading is outside a range; None where it, or both ends, are not known."""
    if reading_c is None or (least_c is None and most_c is None):
        return None
    return (least_c is not None and reading_c < least_c) or (most_c is not None and reading_c > most_c)


def _say_outside(what: str, reading_c: int | None, least_c: int | None, most_c: int | None) -> str:
    return f"{what} at {print_celsius(reading_c)}, where its alloy asks for {print_range(least_c, most_c)}"


def _is_short(minutes: int | None, wanted: int | None, least_pct: int) -> bool | None:
    return minutes * 100 < wanted * least_pct if minutes is not None and wanted else None


def share_gone_pct(received_on: date, use_by: date | None, day: date) -> int | None:
    """How much of a lot's days was gone on a day, in per cent; None of what keeps."""
    if use_by is None:
        return None
    days = (use_by - received_on).days
    return (day - received_on).days * 100 // days if days > 0 else 100


def _is_powder_bad(cast: Recorded, bounds: Bounds) -> bool | None:
    if cast.powder_spoilt:
        return True
    return None if cast.powder_gone_pct is None else cast.powder_gone_pct >= OLD_POWDER_PCT


def _say_powder(cast: Recorded, bounds: Bounds) -> str:
    if cast.powder_spoilt:
        return "its powder was damp or did not set in its time"
    return f"its powder was old: {cast.powder_gone_pct} % of its days were gone"


def _is_used_up(cast: Recorded, bounds: Bounds) -> bool | None:
    if cast.crucible_melts is None or not cast.crucible_life:
        return None
    return cast.crucible_melts >= cast.crucible_life


def _has_many_melts(cast: Recorded, bounds: Bounds) -> bool | None:
    return cast.melted > bounds.many_melts_milli * cast.charge_mg if cast.charge_mg else None


def _has_little_fresh(cast: Recorded, bounds: Bounds) -> bool | None:
    if not cast.charge_mg:
        return None
    return cast.fresh_mg * PCT100_WHOLE < bounds.least_fresh_pct100 * cast.charge_mg


def _rule_of_vacuum(bounds: Bounds) -> str:
    if not bounds.usual_vacuum_tenths:
        return f"below {LOW_VACUUM_PCT} % of the studio's usual vacuum"
    low = print_decimal(bounds.usual_vacuum_tenths * LOW_VACUUM_PCT, 3, most=1)
    usual = _inhg(bounds.usual_vacuum_tenths)
    return f"below {low} inHg, {LOW_VACUUM_PCT} % of the {usual} inHg that is usual here (the median)"


FACTORS: tuple[Factor, ...] = (
    Factor(
        "Vacuum low",
        _rule_of_vacuum,
        lambda cast, bounds: is_vacuum_low(cast.vacuum_tenths, bounds.usual_vacuum_tenths),
        lambda cast, bounds: say_low_vacuum(cast.vacuum_tenths or 0, bounds.usual_vacuum_tenths or 0),
        "Read the gauge before the metal goes in, and pour only at your usual vacuum: look at the seal, the rim of the "
        "flask and the mould for cracks first.",
    ),
    Factor(
        "Metal too hot or too cool",
        lambda bounds: "metal at the pour outside what its alloy asks for",
        lambda cast, bounds: is_outside(cast.metal_c, cast.heats.pour_least_c, cast.heats.pour_most_c),
        lambda cast, bounds: _say_outside(
            "metal", cast.metal_c, cast.heats.pour_least_c, cast.heats.pour_most_c
        ),
        "Bring the metal within what its alloy asks for before you pour.",
    ),
    Factor(
        "Flask too hot or too cool",
        lambda bounds: "flask at the pour outside what its alloy asks for",
        lambda cast, bounds: is_outside(cast.flask_c, cast.heats.flask_least_c, cast.heats.flask_most_c),
        lambda cast, bounds: _say_outside(
            "flask", cast.flask_c, cast.heats.flask_least_c, cast.heats.flask_most_c
        ),
        "Let the flask come to what its alloy asks for before you pour.",
    ),
    Factor(
        "Firing short",
        lambda bounds: (
            f"in the kiln for less than {SHORT_FIRING_PCT} % of the holds and timed climbs of its schedule"
        ),
        lambda cast, bounds: _is_short(cast.fired_minutes, cast.schedule_minutes, SHORT_FIRING_PCT),
        lambda cast, bounds: (
            f"in the kiln for {print_minutes(cast.fired_minutes)}, where the holds and timed climbs of its schedule "
            f"take {print_minutes(cast.schedule_minutes)}"
        ),
        "Give the firing the whole time of its schedule, with every hold.",
    ),
    Factor(
        "Not the first of its firing",
        lambda bounds: "another flask of the same firing was recorded before it",
        lambda cast, bounds: None if cast.poured_before is None else cast.poured_before > 0,
        lambda cast, bounds: "another flask of its firing was poured before it",
        "Pour this kind of flask first, or give the kiln time to come back to its temperature between two flasks.",
    ),
    Factor(
        "Stood too short",
        lambda bounds: (
            f"from the last vacuum to the kiln less than {SHORT_STANDING_PCT} % of the time to stand"
        ),
        lambda cast, bounds: _is_short(cast.stood_minutes, cast.standing_minutes, SHORT_STANDING_PCT),
        lambda cast, bounds: (
            f"the flask stood for about {print_minutes(cast.stood_minutes)} before the kiln, where "
            f"{print_minutes(cast.standing_minutes)} are asked for"
        ),
        "Let the flask stand for its whole time before it goes into the kiln.",
    ),
    Factor(
        "Powder old or spoilt",
        lambda bounds: (
            f"{OLD_POWDER_PCT} % of the powder's days were gone when it was mixed, or it was damp or set out of time"
        ),
        _is_powder_bad,
        _say_powder,
        "Mix from a fresher tub, or try a cupful of this one before the next flask.",
    ),
    Factor(
        "Metal melted often",
        lambda bounds: (
            f"the charge had more than {print_melts(bounds.many_melts_milli)} behind it "
            "in the mean (a quarter of what you allow for metal)"
        ),
        _has_many_melts,
        lambda cast, bounds: (
            f"its charge had {print_melts(divide_half_up(cast.melted, cast.charge_mg))} behind it"
        ),
        "Charge more fresh metal, or metal that was melted less often.",
    ),
    Factor(
        "Little fresh metal",
        lambda bounds: (
            f"fresh metal under {print_percent(bounds.least_fresh_pct100)} of the charge, your own rule"
        ),
        _has_little_fresh,
        lambda cast, bounds: (
            f"{print_percent(compute_share_pct100(cast.fresh_mg, cast.charge_mg))} of its charge was fresh metal"
        ),
        "Charge fresh metal to your own rule.",
    ),
    Factor(
        "Crucible past its life",
        lambda bounds: "the crucible had melted as often as it is reckoned to last",
        _is_used_up,
        lambda cast, bounds: (
            f"its crucible had {cast.crucible_melts} melts behind it, and is reckoned to last {cast.crucible_life}"
        ),
        "Take a new crucible before this one gives way.",
    ),
    Factor(
        "Crucible new",
        lambda bounds: f"one of the first {NEW_CRUCIBLE_POURS} melts of the crucible",
        lambda cast, bounds: (
            None if cast.crucible_melts is None else cast.crucible_melts < NEW_CRUCIBLE_POURS
        ),
        lambda cast, bounds: "its crucible was new",
        "Glaze and heat a new crucible as its maker says before the first charge.",
    ),
)
