"""Going down from a lower hold: what brings a pour that is late back to where it was wished."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from studio.kit.printing import print_celsius, print_minutes
from studio.kit.working import Given, Step, Working, make_working

from .day_plan import DayPlan, Wish
from .replanning import Turn, choose_turns, find_wished_pour, follow, list_set_points, lower_top
from .schedule import compute_total_minutes
from .schedule_check import BURNT_OUT_C

STEP_DOWN_C = 5
"""A lower hold is looked for in steps of this: a kiln is not set finer (a figure of ours)."""
LATE_MINUTES = 15
"""A pour that is later by less is no reason to burn out cooler (a figure of ours)."""


@dataclass(frozen=True, slots=True)
class LowerTop:
    """A burnout at a lower heat: `top_c` in place of `was_c`, and when that pours."""

    top_c: int
    was_c: int
    pour: datetime
    saved_minutes: int
    is_in_time: bool
    working: Working


def offer_lower_top(wish: Wish, plan: DayPlan, turns: Sequence[Turn]) -> LowerTop | None:
    """The highest lower hold from which the pour is as early as wished, or else the lowest that burns out clean.

    None where the pour is late by less than `LATE_MINUTES`, where the climb to the top has begun, and where going
    lower saves nothing. No hold is cut, and none goes below `BURNT_OUT_C` or the heat of the pour: whether the
    powder's sheet lets it go lower than the schedule is for the person to say.
    """
    room_c = plan.kiln.room_c
    _, pour = follow(wish, plan, turns)
    wished = find_wished_pour(wish, plan)
    if pour < wished + timedelta(minutes=LATE_MINUTES):
        return None
    top_c = max(step.target_c for step in plan.steps)
    least_c = max(BURNT_OUT_C, plan.steps[-1].target_c)
    best = None
    for lower_c in range((top_c - 1) // STEP_DOWN_C * STEP_DOWN_C, least_c - 1, -STEP_DOWN_C):
        lower = replace(plan, steps=lower_top(plan.steps, lower_c, room_c))
        if not are_all_kept(plan, lower, turns):
            return None
        _, then = follow(wish, lower, turns)
        if then < pour:
            best = LowerTop(
                lower_c,
                top_c,
                then,
                (pour - then) // timedelta(minutes=1),
                then <= wished,
                _work_lower(lower, top_c),
            )
        if then <= wished:
            break
    return best


def are_all_kept(plan: DayPlan, other: DayPlan, turns: Sequence[Turn]) -> bool:
    """Whether every turn that was written down for a plan is one of another plan's too."""
    return choose_turns(list_set_points(plan), turns) == choose_turns(list_set_points(other), turns)


def _work_lower(plan: DayPlan, was_c: int) -> Working:
    total, hours = compute_total_minutes(plan.steps, plan.kiln.room_c)
    return make_working(
        "Hours with a lower hold",
        "all climbs and holds, the top no higher than this; climbs as steep as the schedule has them, holds whole",
        Given("top of the schedule", print_celsius(was_c), "the schedule"),
        Given(
            "no lower than",
            print_celsius(BURNT_OUT_C),
            "below it a mould does not burn out clean: common practice",
        ),
        *hours.steps[:-1],
        Step("together", print_minutes(total)),
    )
