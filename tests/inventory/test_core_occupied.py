"""One thing at a time: what a day takes, what meets, and the least move that fits; against trying every move."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.clock import QuietHours, find_moment
from inventory.core.day_plan import DayPlan, FlaskPour, Kiln, StudioPractice, Wish, WishKind
from inventory.core.occupied import (
    FARTHEST,
    HAND,
    PERSON,
    QUARTER,
    FlaskThings,
    Span,
    Thing,
    ThingKind,
    explain_free,
    find_blocked,
    find_clashes,
    find_free_shift,
    list_clashes,
    list_spans,
    move_spans,
    tell_clash,
    tell_clashes,
    tell_twice,
)
from inventory.core.quiet_pours import SLEEP_DAYS, Asleep, choose_offers, list_quiet_pours
from inventory.core.schedule import ScheduleStep
from inventory.core.timetable import compute_timetable
from tests.support import plain, told

LONDON = ZoneInfo("Europe/London")
SINCE = datetime(2026, 12, 1, 6, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
KILN = Thing(ThingKind.KILN, 1, "Front kiln")
FLASK, CUP = Thing(ThingKind.FLASK, 1), Thing(ThingKind.CRUCIBLE, 1)
PUMP = Thing(ThingKind.PUMP, 1, "Pump")
THINGS = (KILN, FLASK, CUP, PERSON)

SPANS = st.builds(
    lambda thing, begin, minutes: (thing, begin, begin + minutes),
    st.sampled_from(THINGS),
    st.integers(0, 600),
    st.integers(0, 90),
)
DAYS = st.lists(st.lists(SPANS, max_size=4), min_size=1, max_size=5)


def lay(days):
    return [
        [Span(thing, SINCE + begin * MINUTE, SINCE + end * MINUTE, day) for thing, begin, end in spans]
        for day, spans in enumerate(days)
    ]


def timetable(at, flasks=1):
    steps = (ScheduleStep(700, 120, None, 60),)
    plan = DayPlan(
        steps, Kiln(), StudioPractice(), flasks=tuple(FlaskPour(str(one)) for one in range(flasks))
    )
    return compute_timetable(Wish(WishKind.POUR, at), plan, LONDON)


def test_a_day_takes_its_kiln_flasks_tools_and_person():
    pour = SINCE + timedelta(hours=12)
    moments = timetable(pour, flasks=2).moments
    other = Thing(ThingKind.FLASK, 2)
    spans = list_spans(moments, 7, KILN, [FlaskThings(FLASK, CUP, None, PUMP), FlaskThings(other, CUP)])
    of = {thing: [(one.begin, one.end) for one in spans if one.thing == thing] for thing in (*THINGS, PUMP)}
    # Until the second flask, melted after the first is poured, is out of it.
    assert of[KILN] == [(pour - timedelta(hours=3), pour + 20 * MINUTE)]
    # Mixed for 8 minutes and stood for two hours before the kiln; quenched 15 minutes after the pour.
    mixed = pour - timedelta(hours=5, minutes=8)
    assert of[FLASK] == [(mixed, pour + 15 * MINUTE)]
    assert of[CUP] == [(pour - 20 * MINUTE, pour + HAND), (pour + MINUTE, pour + 21 * MINUTE + HAND)]
    assert of[PUMP] == [
        (mixed + 4 * MINUTE, mixed + 5 * MINUTE),
        (mixed + 6 * MINUTE, mixed + 8 * MINUTE),
        (pour, pour + HAND),
    ]
    # Without a pause from mixing to the last vacuum; each turn of the kiln takes five minutes, a guess of ours.
    assert of[PERSON][0] == (mixed, mixed + 8 * MINUTE)
    assert (pour - timedelta(hours=3), pour - timedelta(hours=3) + 5 * MINUTE) in of[PERSON]
    # Out of the kiln a minute before its pour is one stretch with it.
    assert (pour - MINUTE, pour + MINUTE + HAND) in of[PERSON]
    assert {span.day for span in spans} == {7}


def kiln(begin, end, day=1, thing=KILN):
    return Span(thing, SINCE + begin * MINUTE, SINCE + end * MINUTE, day)


def test_a_kiln_is_the_same_whatever_it_is_called_and_free_from_the_minute_on_in_which_it_is_left():
    renamed = Thing(ThingKind.KILN, 1, "Old kiln")
    assert kiln(0, 60).meets(kiln(59, 90, 2, renamed)) and not kiln(0, 60).meets(kiln(60, 90, 2))
    assert not kiln(0, 60).meets(kiln(0, 60)) and find_clashes([kiln(0, 60), kiln(60, 90, 2)]) == ()


def test_clashes_are_told_in_the_order_in_which_they_begin():
    first, second, third = kiln(0, 60), kiln(30, 60, 2), kiln(45, 60, 3)
    cups = [kiln(30, 60, 4, CUP), kiln(30, 60, 1, CUP)]
    found = find_clashes([third, *cups, second, first])
    assert [(one.day, two.day) for one, two in found] == [(1, 2), (1, 4), (1, 3), (2, 3)]


@given(DAYS)
def test_what_meets_is_what_every_pair_says(days):
    spans = [span for day in lay(days) for span in day]
    pairs = {
        frozenset((id(one), id(two)))
        for one in spans
        for two in spans
        if one.meets(two) and one.begin < one.end and two.begin < two.end
    }
    assert {frozenset(map(id, pair)) for pair in find_clashes(spans)} == pairs


def fits(mine, others, shift, now):
    mine = move_spans([one for one in mine if one.begin < one.end], shift)
    real = [one for one in others if one.begin < one.end]
    return not any(one.meets(two) for one in mine for two in real) and min(one.begin for one in mine) >= now


@settings(deadline=None)
@given(DAYS, st.integers(-400, 700), st.sampled_from([timedelta(hours=4), FARTHEST]))
def test_the_least_move_is_the_one_that_trying_every_move_finds(days, now, farthest):
    mine, *others = lay(days)
    mine, others = [one for one in mine if one.begin < one.end], [one for day in others for one in day]
    others = [one for one in others if one.begin < one.end]
    now = SINCE + now * MINUTE
    found = find_free_shift(mine, others, now, farthest)
    if not mine:
        assert found is None
        return
    # By distance, and of two alike the later.
    tries = sorted(range(-100, 101), key=lambda place: (abs(place), -place))
    steps = (place * QUARTER for place in tries if abs(place * QUARTER) <= farthest)
    assert found == next((shift for shift in steps if fits(mine, others, shift, now)), None)


def test_two_that_touch_leave_one_move_between_them():
    mine = [Span(KILN, SINCE, SINCE + 60 * MINUTE, 1)]
    others = [
        Span(KILN, SINCE - 30 * MINUTE, SINCE + 45 * MINUTE, 2),
        Span(KILN, SINCE + 105 * MINUTE, SINCE + 400 * MINUTE, 3),
    ]
    assert find_free_shift(mine, others, SINCE) == 45 * MINUTE
    blocked = find_blocked(mine, others)
    assert not blocked.holds(45 * MINUTE) and blocked.holds(44 * MINUTE) is True
    assert blocked.last_free(45 * MINUTE) == 45 * MINUTE == blocked.next_free(45 * MINUTE)


def test_what_one_day_takes_within_another_is_one_stretch_in_which_it_is_not_free():
    others = [kiln(-600, -300, 2), kiln(60, 600, 2), kiln(120, 180, 3), kiln(500, 700, 3)]
    blocked = find_blocked([kiln(0, 60)], others)
    assert blocked.intervals == ((-660 * MINUTE, -300 * MINUTE), (timedelta(0), 700 * MINUTE))


def test_a_day_is_moved_by_a_week_at_most():
    week = 7 * 24 * 60
    assert find_free_shift([kiln(0, 60)], [kiln(-week, week, 2)], SINCE) == timedelta(days=7)
    assert find_free_shift([kiln(0, 60)], [kiln(-week, week + 1, 2)], SINCE) is None


def test_how_the_nearest_free_time_was_found_is_told_from_the_first_to_the_last_that_is_taken():
    mine, theirs = [kiln(0, 600)], [kiln(30, 90, 2), kiln(120, 240, 2)]
    clashes = list_clashes(mine, theirs)
    assert [(clash.begin, clash.end, clash.times) for clash in clashes] == [
        (SINCE + 30 * MINUTE, SINCE + 240 * MINUTE, 2)
    ]
    later, earlier = (
        told(explain_free(clashes, SINCE, shift, LONDON, SINCE - 60 * MINUTE))
        for shift in (QUARTER, -QUARTER)
    )
    assert "Front kiln: Tue 1 Dec, 06:30 to Tue 1 Dec, 10:00 (the other day's timetable)" in later
    assert "each thing done by hand: 5 min (a guess of ours)" in later
    assert "15 min later = Tue 1 Dec, 06:15" in later and "15 min earlier = Tue 1 Dec, 05:45" in earlier


def test_a_clash_is_said_once_for_each_thing_and_the_person_only_alone():
    mine = [Span(KILN, SINCE, SINCE + 60 * MINUTE, 1), Span(PERSON, SINCE, SINCE + HAND, 1)]
    theirs = [Span(KILN, SINCE + 30 * MINUTE, SINCE + 90 * MINUTE, 2), Span(PERSON, SINCE, SINCE + HAND, 2)]
    (clash,) = list_clashes(mine, theirs)
    assert tell_clash(clash, "Fern leaves", LONDON) == (
        "Front kiln is taken by Fern leaves from Tue\xa01\xa0Dec, 06:30 to Tue\xa01\xa0Dec, 07:30."
    )
    others = [
        clash,
        replace(clash, thing=PUMP),
        replace(clash, thing=replace(CUP, name="Cup")),
        replace(clash, thing=replace(KILN, name="Third")),
    ]
    assert tell_clashes(others, "Buds", LONDON).endswith("07:30. So are Pump, Cup and Third.")
    (alone,) = list_clashes(mine, theirs[1:])
    assert tell_clash(alone, "Fern leaves", LONDON).startswith("Two things are to be done by hand at once")
    assert plain(tell_clash(replace(alone, times=3), "Buds", LONDON)) == (
        "Things are to be done by hand for Buds at the same time, 3 times, the first on Tue 1 Dec, 06:00."
    )


def test_what_is_wanted_twice_is_said_in_a_line():
    names = ("Fern leaves", "Buds")
    assert plain(tell_twice(KILN, names, SINCE, LONDON)) == (
        "Front kiln is wanted for Fern leaves and for Buds at once, from Tue 1 Dec, 06:00."
    )
    assert plain(tell_twice(PERSON, names, SINCE, LONDON, 2)) == (
        "By hand, two things are to be done for Fern leaves and for Buds at once, from Tue 1 Dec, 06:00; "
        "and 2 more of the kind."
    )


# The two nights of 2026 in which the clocks of London change, and of a zone that changes by half an hour.
CHANGES = [
    (LONDON, datetime(2026, 3, 28, tzinfo=UTC)),
    (LONDON, datetime(2026, 10, 24, tzinfo=UTC)),
    (ZoneInfo("Australia/Lord_Howe"), datetime(2026, 4, 3, tzinfo=UTC)),
    (ZoneInfo("Australia/Lord_Howe"), datetime(2026, 10, 3, tzinfo=UTC)),
]


@settings(deadline=None, max_examples=12)
@given(
    st.sampled_from(CHANGES),
    st.integers(0, 48 * 60),
    st.integers(0, 8 * 60),
    st.sampled_from([time(20), time(22), time(1, 30)]),
    st.sampled_from([time(2, 30), time(7)]),
)
def test_pours_that_leave_the_night_alone_are_those_whose_timetables_do(change, since, hold, begin, end):
    zone, day = change
    now = day + since * MINUTE
    quiet = QuietHours(begin, end)

    def night(pour):
        plan = DayPlan(
            (ScheduleStep(700, 180, None, hold),),
            Kiln(has_program=True),
            StudioPractice(standing_minutes=60, quiet=quiet),
        )
        return compute_timetable(Wish(WishKind.POUR, pour), plan, zone)

    asleep = Asleep.of(night(now).moments)
    since = now + asleep.lead
    first = next(
        pour
        for pour in (since.replace(minute=0, second=0) + QUARTER * place for place in range(5))
        if pour >= since
    )
    expected = [
        pour
        for pour in (first + QUARTER * place for place in range(SLEEP_DAYS * 24 * 4))
        if not any(one.by_hand and one.at_night for one in night(pour).moments)
        and find_moment(pour.astimezone(zone).replace(tzinfo=None), zone).at == pour
    ]
    assert list(list_quiet_pours(asleep, quiet, zone, now)) == expected


def test_the_ends_of_each_run_are_offered():
    pours = [SINCE, SINCE + QUARTER, SINCE + 2 * QUARTER, SINCE + 20 * QUARTER, SINCE + 40 * QUARTER]
    assert choose_offers(pours) == (SINCE, SINCE + 2 * QUARTER, SINCE + 20 * QUARTER)
    assert choose_offers([]) == ()
