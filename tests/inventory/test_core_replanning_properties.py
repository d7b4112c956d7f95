"""Whatever was turned late or early: what is left keeps every hold and climb, and the day runs forward."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.day_plan import DayPlan, Kiln, Wish, WishKind
from inventory.core.lower_hold import offer_lower_top
from inventory.core.replanning import Turn, list_set_points, replan
from inventory.core.schedule import lay_out
from inventory.core.timetable import compute_timetable

from .test_core_timetable_properties import CHANGES, PRACTICES, SCHEDULES

LONDON = ZoneInfo("Europe/London")
MINUTE = timedelta(minutes=1)
AROUND = st.builds(
    lambda day, minutes: day.replace(tzinfo=UTC) + minutes * MINUTE,
    st.sampled_from([*CHANGES, datetime(2026, 6, 1)]),
    st.integers(-600, 1_800),
)
PLANS = st.builds(
    DayPlan, SCHEDULES, st.builds(Kiln, st.just(False), st.integers(40, 300), st.integers(0, 40)), PRACTICES
)
WISHES = st.builds(Wish, st.sampled_from(WishKind), AROUND)
LATE = st.lists(st.integers(-20, 90), max_size=12)


def turn_in_order(plan, on, gaps):
    """The first set points turned one after another, each so many minutes off after the one before it."""
    turns, at, before = [], on, 0
    for place, (point, gap) in enumerate(zip(list_set_points(plan), gaps, strict=False)):
        at = max(at, at + (point.minute - before + gap) * MINUTE) if place else on + gap * MINUTE
        before = point.minute
        turns.append(Turn(place, point.set_c, at))
    return turns


@given(WISHES, PLANS, LATE)
def test_what_is_left_keeps_every_hold_and_climb(wish, plan, gaps):
    planned = compute_timetable(wish, plan, LONDON)
    on = next(one.at for one in planned.moments if one.kind == "kiln-on")
    turns = turn_in_order(plan, on, gaps)
    made = replan(wish, plan, LONDON, turns)
    points = list_set_points(plan)
    laid = lay_out(plan.steps, plan.kiln.room_c)
    whole = laid[-1].end_minute if laid else 0
    marks = [*(point.minute for point in points), whole]
    went = [*(one.at for one in made.turns), made.pour]
    for later in range(max(1, len(turns)), len(marks)):
        # From any turn to one that is still to come lies what the schedule has there, or more.
        for one in range(later):
            assert went[later] - went[one] >= (marks[later] - marks[one]) * MINUTE
    if wish.kind == WishKind.POUR:
        assert made.pour >= wish.at
    ats = [one.at for one in made.timetable.moments]
    assert ats == sorted(ats)
    assert len(ats) == len(planned.moments)
    if not any(gaps[: len(turns)]):
        assert made.timetable.moments == planned.moments


@given(WISHES, PLANS, LATE)
def test_a_lower_hold_cuts_no_hold_and_makes_no_climb_steeper(wish, plan, gaps):
    on = next(one.at for one in compute_timetable(wish, plan, LONDON).moments if one.kind == "kiln-on")
    turns = turn_in_order(plan, on, gaps[:2])
    lower = offer_lower_top(wish, plan, turns)
    if lower is None:
        return
    late, less = (replan(wish, plan, LONDON, turns, top_c=top) for top in (None, lower.top_c))
    assert less.pour == lower.pour < late.pour
    assert lower.is_in_time == (less.pour <= less.wished_pour)
    assert [one.turned for one in less.turns[: len(turns)]] == [one.at for one in turns]
    assert lower.top_c >= plan.steps[-1].target_c
