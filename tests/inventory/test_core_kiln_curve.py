"""A kiln's own curve: found again from readings of a made kiln, and turned into whole minutes."""

from math import exp, log
from random import Random

import pytest

from inventory.core.kiln_curve import (
    Curve,
    KilnCurves,
    compute_tau,
    explain_curve,
    fit_climb,
    fit_curves,
    fit_fall,
    print_spread,
)
from inventory.core.kiln_rates import (
    MOST_WINDOWS,
    FiringRates,
    Window,
    join_moments,
    measure_rates,
    pack_rates,
    unpack_rates,
)
from tests.inventory.made_kiln import END_C, ROOM_C, TAU, TAU_FALL, MadeKiln, fire

CURVES = fit_curves((measure_rates(fire(Random(1))), measure_rates(fire(Random(2)))), ROOM_C)


def test_a_fall_measured_once_gives_its_time_constant():
    # Newton: 60 / ln(712 / 601) = 354 min; computed by hand from the law of cooling.
    assert round(compute_tau(60, 732, 621, 20)) == 354
    assert [round(fit.tau_minutes) for fit in [fit_fall([[Window(732, 621, 60)] * 3], 20)] if fit] == [354]
    for to_c in (732, 621):
        with pytest.raises(ValueError, match="no nearer"):
            compute_tau(60, 621, to_c, 20)


def test_a_made_kiln_is_found_again_within_its_noise():
    climb, fall = CURVES.climb, CURVES.fall
    assert climb and fall and (climb.firings, fall.firings) == (2, 2)
    for curve, towards_c, tau, ends in (
        (climb, END_C, TAU, ((20, 150), (150, 370), (370, 732))),
        (fall, ROOM_C, TAU_FALL, ((732, 621), (732, 540))),
    ):
        for from_c, to_c in ends:
            true = tau * log((from_c - towards_c) / (to_c - towards_c))
            assert abs(curve.exact_minutes(from_c, to_c) - true) < max(1.5, 0.04 * true)
    assert abs(climb.towards_c - END_C) < 60


@pytest.mark.parametrize("seed", range(3))
def test_a_tenth_of_wild_readings_changes_little(seed):
    rates = measure_rates(fire(Random(seed), wild=0.1))
    curves = fit_curves((rates,), ROOM_C)
    assert curves.climb and curves.fall
    for curve, from_c, to_c, towards_c, tau in (
        (curves.climb, 20, 732, END_C, TAU),
        (curves.fall, 732, 621, ROOM_C, TAU_FALL),
    ):
        true = tau * log((from_c - towards_c) / (to_c - towards_c))
        assert abs(curve.exact_minutes(from_c, to_c) - true) < 0.06 * true


def test_minutes_are_rounded_up_and_a_curve_is_not_believed_beyond_what_it_has_seen():
    climb = CURVES.climb
    assert climb and climb.minutes(20, 150) == int(climb.exact_minutes(20, 150)) + 1
    assert climb.reaches(20, 732) and not climb.reaches(20, 900) and not climb.reaches(20, 1300)
    assert CURVES.between(20, 732) is climb and CURVES.between(20, 900) is None
    assert CURVES.between(732, 621) is CURVES.fall and CURVES.between(732, 100) is None
    with pytest.raises(ValueError, match="never gets there"):
        climb.minutes(20, 1300)


def by_law(*ends, tau=TAU, towards_c=END_C):
    """Windows as the law has them, exactly."""
    return [
        Window(from_c, to_c, tau * log((from_c - towards_c) / (to_c - towards_c))) for from_c, to_c in ends
    ]


def steps(begin, by, count):
    return [(begin + by * place, begin + by * (place + 1)) for place in range(count)]


def test_six_climbs_over_150_degrees_and_three_falls_over_40_are_the_least_that_tell():
    """Guesses of ours. A window's pace is taken for that of its middle, so the law comes back but for a hair."""
    climb = fit_climb([by_law(*steps(100, 25, 6))])
    assert climb and climb.tau_minutes == pytest.approx(TAU, rel=0.01)
    assert climb.towards_c == pytest.approx(END_C, rel=0.01) and climb.origin.endswith("1 firing")
    assert fit_climb([by_law(*steps(100, 30, 5))]) is None
    assert fit_climb([by_law(*steps(100, 24, 6))]) is None
    fall = fit_fall([by_law(*steps(700, -20, 2), (690, 680), towards_c=ROOM_C)], ROOM_C)
    assert fall and (fall.least_c, fall.most_c, fall.slow_pct, fall.fast_pct) == (660, 700, 0, 0)
    for few in (((700, 660), (700, 661)), ((700, 680), (690, 670), (680, 661))):
        assert fit_fall([by_law(*few, towards_c=ROOM_C)], ROOM_C) is None
    # The last degrees above the room are hardly seen by a thermocouple.
    assert fit_fall([by_law(*steps(100, -20, 3), towards_c=ROOM_C)], ROOM_C) is None
    assert fit_fall([by_law(*steps(101, -20, 3), towards_c=ROOM_C)], ROOM_C)


def test_a_kiln_that_shows_no_end_of_its_climb_has_no_curve():
    assert fit_climb([[Window(c, c + 25, 10) for c in range(100, 400, 25)]]) is None
    # Its windows say 600 C, and it was at 710.
    hotter = [*by_law(*steps(100, 50, 8), towards_c=600), Window(690, 710, 5)]
    assert fit_climb([hotter]) is None


def test_what_went_by_a_program_at_half_of_what_the_kiln_can_is_left_out():
    """A quarter of the windows at about a temperature show what it can."""
    can = by_law(*steps(110, 20, 25))
    slow = [Window(one.from_c, one.to_c, 2 * one.minutes) for one in can for _ in range(2)]
    assert fit_climb([can, slow]) == fit_climb([can])


def falls(*taus):
    return [
        by_law((600 + place, 599 + place - 20 * (place % 3)), tau=tau, towards_c=ROOM_C)[0]
        for place, tau in enumerate(taus)
    ]


def test_the_spread_is_that_of_the_firings_or_of_the_windows_of_one():
    """By hand: of 100 and 300 min the middle is 200, two thirds as fast and twice; quartiles of 70, 80, ... 130 min."""
    for tau, middle, slow_pct, fast_pct in ((300, 200, 33, 100), (700, 400, 43, 300)):
        two = fit_fall([falls(100, 100, 100), falls(tau, tau, tau)], ROOM_C)
        assert two and (round(two.tau_minutes), two.slow_pct, two.fast_pct) == (middle, slow_pct, fast_pct)
    one = fit_fall([falls(*range(70, 140, 10)), []], ROOM_C)
    assert one and (round(one.tau_minutes), one.firings, one.slow_pct, one.fast_pct) == (100, 1, 17, 25)
    assert print_spread(one).replace("\u00a0", " ") == "−17 % to +25 %"
    assert print_spread(Curve(700, 100, 20, 600, 1, 9)).replace("\u00a0", " ") == "0 % to 0 %"


def test_a_curve_is_believed_60_degrees_beyond_what_it_saw_and_not_in_its_last_20():
    """Guesses of ours."""
    climb, fall = Curve(1050, 150, 20, 600, 1, 9), Curve(20, 354, 500, 700, 1, 9)
    assert climb.reaches(20, 660) and not climb.reaches(20, 661)
    assert fall.reaches(700, 440) and not fall.reaches(700, 439)
    near, low = Curve(700, 150, 20, 690, 1, 9), Curve(20, 354, 30, 700, 1, 9)
    assert near.reaches(20, 679) and not near.reaches(20, 680)
    assert low.reaches(700, 41) and not low.reaches(700, 40)
    for curve, from_c, to_c in ((fall, 621, 732), (climb, 732, 621)):
        with pytest.raises(ValueError, match="never gets there"):
            curve.exact_minutes(from_c, to_c)


@pytest.mark.parametrize("rate", [0.1, 1.4, 1.9, 5.0])
def test_a_fall_that_is_asked_for_is_followed_as_far_as_the_kiln_cools(rate):
    """Against going down by twentieths of a minute."""
    fall = Curve(20, 354, 100, 800, 1, 9)
    c, minute = 732.0, 0.0
    while c > 450:
        minute += 0.05
        c -= 0.05 * min(rate, (c - fall.towards_c) / fall.tau_minutes)
    assert abs(fall.exact_follow(732, 450, rate) - minute) < 0.2


def test_a_climb_that_the_kiln_can_do_keeps_its_minutes_and_one_that_it_cannot_gets_what_it_needs():
    climb = CURVES.climb
    assert climb and climb.follow(20, 150, 60) == 60
    all_it_can = climb.minutes(370, 732)
    needs = climb.follow(370, 732, all_it_can)
    # It keeps up as long as it can, and is behind from there on: later than at full heat from the beginning.
    assert all_it_can < needs <= all_it_can * 1.3
    assert climb.follow(370, 732, 3 * needs) == 3 * needs
    assert climb.follow(370, 732, 1) == all_it_can
    # Step by step: what follows a climb as far as it can, minute by minute.
    c, minute, rate = 370.0, 0.0, 362 / all_it_can
    while c < 732:
        minute += 0.01
        c += 0.01 * min(rate, (climb.towards_c - c) / climb.tau_minutes)
    assert abs(climb.exact_follow(370, 732, rate) - minute) < 0.1


def test_little_or_senseless_readings_give_no_curve():
    steady = [(float(minute), 20.0 + 3 * minute) for minute in range(240)]
    assert fit_curves((), ROOM_C) == KilnCurves()
    assert fit_curves((FiringRates(),), ROOM_C) == KilnCurves()
    assert fit_climb([[Window(20, 40, 5)] * 30]) is None
    assert measure_rates([]) == measure_rates([(0, 20)]) == measure_rates([(0, 20)] * 9) == FiringRates()
    quicker = [(minute, 20 * exp(minute / 60)) for minute in range(200)]
    assert fit_climb([measure_rates(quicker).climbs]) is None
    assert len(measure_rates(steady).climbs) <= MOST_WINDOWS


def test_where_the_kiln_kept_up_with_its_program_it_shows_nothing_of_its_full_heat():
    kiln = MadeKiln()
    kept_up = [kiln.go_evenly(10.0, 2.0) for _ in range(30)]
    assert measure_rates(kept_up, lambda c, is_up: 2.0).climbs == ()
    behind = [kiln.go_evenly(10.0, 9.0) for _ in range(30)]
    assert measure_rates(behind, lambda c, is_up: 9.0).climbs


def test_rates_are_kept_as_whole_numbers_and_seen_moments_give_some_too():
    rates = measure_rates(fire(Random(1)))
    kept = unpack_rates(pack_rates(rates))
    assert all(type(number) is int for row in pack_rates(rates)["climbs"] for number in row)
    again = fit_curves((kept,), ROOM_C)
    assert (
        again.climb
        and abs(again.climb.minutes(20, 732) - fit_curves((rates,), ROOM_C).climb.minutes(20, 732)) <= 1
    )
    seen = join_moments([(0, 20), (0, 60), (30, 150), (35, 155), (95, 732), (155, 621)])
    assert seen == FiringRates((Window(60, 150, 30), Window(155, 732, 60)), (Window(732, 621, 60),))


def test_its_working_says_how_many_firings_it_rests_on_and_their_spread():
    assert CURVES.climb and CURVES.fall
    working = explain_curve(CURVES.climb, 20, 732)
    said = " ".join(
        [*(f"{one.value} {one.origin}" for one in working.givens), *(one.result for one in working.steps)]
    )
    assert "2 logs" in said and "%" in said and working.steps[-1].result == working.result
    assert working.steps[0].text == "it goes towards"
    cooling = explain_curve(CURVES.fall, 732, 621)
    assert "Newton" in cooling.source and cooling.givens[1].label == "the room"
