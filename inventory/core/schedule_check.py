"""What stands against a burnout schedule, in sentences that say how to mend it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from studio.kit.printing import print_celsius, print_minutes
from studio.kit.units import MINUTES_PER_HOUR

from .schedule import ROOM_C, ScheduleStep, count_minutes

GYPSUM_MOST_C = 750
"""Above it calcium sulfate breaks down (Phillips' Science of Dental Materials, from memory; common practice)."""
BURNT_OUT_C = 650
"""Below it carbon stays in the mould: tables go to about 730 C (a printed one: 3 h at 1350 F; common practice)."""
DRY_C, DRY_MINUTES = 400, 30
"""Somewhere below 400 C a mould stands until wax and steam are out (a printed table: 2 h at 300 F; common practice)."""
TARGET_MOST_C = 1_300
C_PER_HOUR_MOST = 1_500
STEPS_MOST = 24
MINUTES_MOST = 24 * MINUTES_PER_HOUR
SCHEDULE_MINUTES_MOST = 7 * MINUTES_MOST
LABEL_MOST = 60


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence about a schedule; `step` is the place of the step it is about, None for the whole.

    `about` is what of the step: "target", "climb", "hold" or "label", "" for all of it. A caution is said and
    never stops anything.
    """

    sentence: str
    step: int | None = None
    is_caution: bool = False
    about: str = ""


def check_schedule(
    steps: Sequence[ScheduleStep],
    most_c: int | None = None,
    is_gypsum_bonded: bool = True,
    start_c: int = ROOM_C,
) -> tuple[Remark, ...]:
    """What is wrong with a schedule for a powder that stands `most_c` at most (None: its sheet is not known)."""
    if not steps:
        return (Remark("A schedule needs a step: write the first temperature and how long it is held."),)
    if len(steps) > STEPS_MOST:
        return (Remark(f"A schedule has {STEPS_MOST} steps at most. Put some of them together."),)
    found: list[Remark] = []
    from_c = start_c
    for place, step in enumerate(steps):
        found += [
            Remark(sentence, place, about=about) for about, sentence in _check_step(place + 1, step, from_c)
        ]
        found += _check_heat(place, step.target_c, most_c, is_gypsum_bonded)
        from_c = step.target_c
    if all(remark.is_caution for remark in found):
        found += _check_whole(steps, start_c)
    return tuple(found)


def _check_step(number: int, step: ScheduleStep, from_c: int) -> Iterator[tuple[str, str]]:
    """What of the step is wrong, and the sentence."""
    day = print_minutes(MINUTES_MOST)
    if not 0 <= step.target_c <= TARGET_MOST_C:
        yield (
            "target",
            f"Step {number}: a kiln is set between 0 and {print_celsius(TARGET_MOST_C)}. Check the temperature.",
        )
    if not 0 <= step.climb_minutes <= MINUTES_MOST:
        yield "climb", f"Step {number}: a climb takes {day} at most. Make it two steps, or shorten it."
    if not 0 <= step.hold_minutes <= MINUTES_MOST:
        yield "hold", f"Step {number}: a hold takes {day} at most. Make it two steps, or shorten it."
    if len(step.label) > LABEL_MOST:
        yield "label", f"Step {number}: its name has {LABEL_MOST} letters at most. Shorten it."
    yield from (("climb", sentence) for sentence in _check_rate(number, step, from_c))
    if from_c == step.target_c and step.climb_minutes == step.hold_minutes == 0:
        yield "", f"Step {number} changes nothing: give it a hold or another temperature, or take it out."


def _check_rate(number: int, step: ScheduleStep, from_c: int) -> Iterator[str]:
    degrees = abs(step.target_c - from_c)
    rate = step.climb_c_per_hour
    if rate is not None:
        if not 1 <= rate <= C_PER_HOUR_MOST:
            yield (
                f"Step {number}: a kiln climbs between 1 and {C_PER_HOUR_MOST:,} °C an hour. Write a rate "
                "between these, or the minutes of the climb."
            )
        elif degrees * MINUTES_PER_HOUR > rate * MINUTES_MOST:
            yield f"Step {number}: at {rate} °C an hour this climb takes more than a day. Write a faster rate."
    # 0 minutes is "as fast as the kiln can", so only a time that was written is held against the kiln.
    elif 0 < step.climb_minutes * C_PER_HOUR_MOST < degrees * MINUTES_PER_HOUR:
        yield (
            f"Step {number}: no kiln goes from {print_celsius(from_c)} to {print_celsius(step.target_c)} in "
            f"{print_minutes(step.climb_minutes)}. Give it longer, or 0 minutes to go as fast as the kiln can."
        )


def _check_heat(place: int, target_c: int, most_c: int | None, is_gypsum_bonded: bool) -> Iterator[Remark]:
    target = print_celsius(target_c)
    if most_c is not None and target_c > most_c:
        yield Remark(
            f"Step {place + 1}: this powder stands {print_celsius(most_c)} at most, and the step goes to {target}. "
            "Lower the step, or choose another powder.",
            place,
            about="target",
        )
    if is_gypsum_bonded and target_c > GYPSUM_MOST_C:
        yield Remark(
            f"Step {place + 1} goes to {target}. Above {print_celsius(GYPSUM_MOST_C)} a mould bonded with gypsum "
            "breaks down and gives off sulfur dioxide. Follow the maker's sheet.",
            place,
            is_caution=True,
            about="target",
        )


def _check_whole(steps: Sequence[ScheduleStep], start_c: int) -> Iterator[Remark]:
    total = count_minutes(steps, start_c)
    if total > SCHEDULE_MINUTES_MOST:
        yield Remark(
            f"The schedule takes {print_minutes(total)}: a week is the most. Shorten its holds or climbs."
        )
    elif total == 0:
        yield Remark("The schedule takes no time at all: give a step a climb or a hold.")
    else:
        yield from _check_burnout(steps)


def _check_burnout(steps: Sequence[ScheduleStep]) -> Iterator[Remark]:
    top_c = max(step.target_c for step in steps)
    if top_c < BURNT_OUT_C:
        yield Remark(
            f"It goes to {print_celsius(top_c)} at most. Below {print_celsius(BURNT_OUT_C)} what was in the mould does "
            "not burn out clean, and carbon spoils the metal. Follow the powder's sheet.",
            is_caution=True,
        )
    elif not any(step.target_c <= DRY_C and step.hold_minutes >= DRY_MINUTES for step in steps):
        yield Remark(
            f"It does not stand anywhere below {print_celsius(DRY_C)}. Wax and steam need time to leave: a mould that "
            "is heated fast cracks, and may burst. Follow the powder's sheet.",
            is_caution=True,
        )
