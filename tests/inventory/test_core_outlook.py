"""When to order, how much, and why."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest

from inventory.core.backtest import compute_backtest
from inventory.core.coming import Dated, Leads, Parcel, assume_leads, find_spoils
from inventory.core.lasting import compute_fan, compute_run_out
from inventory.core.learning_use import compute_season, learn_use
from inventory.core.outlook import Asked, compute_outlook
from inventory.core.outlook_working import explain_how_much, explain_lasting, explain_when
from tests.support import told
from tests.workings import find_fault

TODAY = date(2026, 6, 1)
STEADY = (700_000,) * 26


def asked(**changes):
    """100 g a day, a parcel in ten days to the day, 3 kg here."""
    known = {
        "today": TODAY,
        "weekly": STEADY,
        "looked_back": 26,
        "leads": Leads((10,), "the supplier"),
        "certainty_pct100": 9_500,
        "parcels": [Parcel("Lot 1", 3_000_000)],
    }
    return Asked(**(known | changes))


def outlook(**changes):
    return compute_outlook(asked(**changes))


def test_steady_use_is_ordered_at_what_a_delivery_takes_and_what_the_use_before_took_past_it():
    """Ten days are two whole weeks, of 1,400 g; the use before took up to 700 g past the point, of which 95 % are
    664 g, told apart by 1.4 g. The rate is 700 g less a twentieth."""
    one = outlook()
    assert (one.use.a_week, one.lumps, one.point) == (665_000, 2_064_000, 2_064_000)
    # 936 g above the point at 95 g a day.
    assert one.order_by == TODAY + timedelta(days=9) and not one.is_due
    assert outlook(parcels=[Parcel("Lot 1", 2_064_000)]).is_due
    assert not outlook(parcels=[Parcel("Lot 1", 2_200_000)]).is_due


def test_what_nobody_uses_is_never_ordered():
    one = outlook(weekly=(0,) * 26, parcels=[])
    assert (one.point, one.order_by, one.amount, one.most) == (0, None, 0, None)
    assert "takes none" in one.use.sentence and compute_run_out(one) == (None, None)


def test_a_plan_that_is_short_inside_the_time_of_a_delivery_is_ordered_for_today():
    short = Dated(TODAY + timedelta(days=2), 3_600_000, "the plan Fern leaves")
    one = outlook(takes=[short])
    assert one.is_due and one.because.startswith("the plan Fern leaves lacks 600.00\u00a0g")
    assert (one.point, one.planned) == (3_600_000, 3_600_000)
    assert compute_run_out(one) == (short.day, short.day)


def test_a_plan_far_ahead_is_ordered_for_when_a_parcel_could_just_come():
    far = replace(
        asked(weekly=(), looked_back=26), takes=[Dated(TODAY + timedelta(days=40), 3_600_000, "the plan")]
    )
    one = compute_outlook(far)
    assert one.order_by == TODAY + timedelta(days=40 - 17) and one.amount == 600_000
    assert compute_outlook(replace(far, today=one.order_by)).is_due
    assert not compute_outlook(replace(far, today=one.order_by - timedelta(days=1))).is_due


def test_a_plan_that_leaves_too_little_is_ordered_for_by_its_day():
    plan = Dated(TODAY + timedelta(days=3), 1_000_000, "the plan Fern leaves")
    one = outlook(takes=[plan])
    assert one.order_by == plan.day and "takes it down" in one.because


def test_a_plan_that_is_before_the_parcel_it_waits_for_is_told():
    """1 kg is here; 5 kg come on the fourth day, and the plan takes 3 kg on the third."""
    day = TODAY + timedelta(days=3)
    waits = {"parcels": [Parcel("Lot 1", 1_000_000)], "brings": [Dated(day, 5_000_000, "an order")]}
    early = outlook(takes=[Dated(day - timedelta(days=1), 3_000_000, "the plan Fern leaves")], **waits)
    assert not early.is_due
    assert early.too_early.replace("\xa0", " ") == (
        "The plan Fern leaves lacks 2,000 g on Wed 3 Jun 2026: what is on the road comes on Thu 4 Jun 2026."
    )
    assert outlook(takes=[Dated(day, 3_000_000, "a plan")], **waits).too_early == ""
    assert outlook(takes=[Dated(day, 9_000_000, "a plan")], **waits).too_early == "", "more must be ordered"


def test_what_is_on_the_road_counts():
    coming = [Dated(TODAY + timedelta(days=4), 5_000_000, "an order")]
    one = outlook(brings=coming, parcels=[Parcel("Lot 1", 500_000)])
    assert one.position == 5_500_000 and not one.is_due
    days = {week.day: week.middle for week in compute_fan(one, 2)}
    # Of 500 g a week takes 700 g, or rather what the step rounds it up to, after the order came.
    assert 4_780_000 <= days[TODAY + timedelta(days=7)] <= 4_800_000


def test_what_is_out_of_date_before_it_is_used_does_not_count():
    """At 665 g a week 20 days, today among them, take 1,900 g; the next lot then keeps on from there."""
    lots = [Parcel("Lot 2", 5_000_000), Parcel("Lot 1", 3_000_000, TODAY + timedelta(days=19))]
    one = outlook(parcels=lots)
    assert one.spoils == (Parcel("Lot 1", 1_100_000, TODAY + timedelta(days=19)),)
    assert (one.good, one.counts) == (8_000_000, 6_900_000)
    planned = [Dated(TODAY + timedelta(days=1), 2_500_000, "a plan")]
    assert find_spoils(lots, Fraction(665_000), planned, TODAY)[0].quantity == 500_000
    assert find_spoils(lots, Fraction(0), (), TODAY) == ()


def test_the_first_to_go_out_of_date_is_used_first():
    lots = [
        Parcel("late", 1_000_000, TODAY + timedelta(days=13)),
        Parcel("soon", 700_000, TODAY + timedelta(days=6)),
    ]
    assert find_spoils(lots, Fraction(700_000), (), TODAY) == (Parcel("late", 300_000, lots[0].last_day),)


def test_a_parcel_is_here_before_the_last_good_lot_goes_out_of_date():
    """A plan takes 5.6 kg of 6 by the 40th day, when the rest goes stale: at the mean rate 3.8 kg would be taken,
    and 1.8 kg would seem to be left for the days after it."""
    last_day = TODAY + timedelta(days=39)
    plan = Dated(last_day, 5_600_000, "a plan")
    one = outlook(parcels=[Parcel("Lot 1", 6_000_000, last_day)], takes=[plan])
    assert (one.counts, one.last_good_day) == (5_600_000, last_day)
    # Ten days on the road before the day after the last good one.
    assert one.order_by == last_day + timedelta(days=1 - 10) and "is good until" in one.because
    assert outlook(parcels=[*one.asked.parcels, Parcel("Lot 2", 4_000_000)], takes=[plan]).order_by > plan.day


def test_a_parcel_that_may_come_late_is_here_before_the_last_good_day():
    last_day = TODAY + timedelta(days=39)
    facts = {
        "parcels": [Parcel("Lot 1", 6_000_000, last_day)],
        "takes": [Dated(last_day, 5_600_000, "a plan")],
    }
    assert outlook(leads=Leads((3, 10), "the supplier"), **facts).order_by == last_day + timedelta(
        days=1 - 10
    )


def test_whole_packs_are_ordered_though_some_goes_stale_and_parcels_are_not():
    """A kilogram keeps two weeks: 1,330 g are used in time, and the least is 950 g."""
    facts = {"parcels": [Parcel("Lot 1", 2_064_000)], "keeps_days": 14, "usual_parcel": 5_000_000}
    assert outlook(**facts).amount == outlook(**facts).most < 5_000_000
    assert outlook(whole_parcels=True, **facts).amount == 5_000_000


def test_the_most_is_what_plans_take_where_they_take_more():
    plan = Dated(TODAY + timedelta(days=10), 9_000_000, "a plan")
    usual, planned = (outlook(keeps_days=14, takes=takes).most for takes in ((), [plan]))
    assert planned > usual


def test_at_the_point_itself_it_is_time_to_order_even_where_nothing_is_used():
    plan = Dated(TODAY + timedelta(days=5), 3_000_000, "a plan")
    exact = outlook(weekly=(), takes=[plan])
    assert exact.point == exact.position and exact.is_due


def test_what_is_on_the_road_goes_out_of_date_as_well():
    """It comes in 4 days and is good for 30 from then: 35 days, today among them, take 3,325 g of 8 kg."""
    coming = [Dated(TODAY + timedelta(days=4), 5_000_000, "an order")]
    one = outlook(
        brings=coming, keeps_days=30, parcels=[Parcel("Lot 1", 3_000_000, TODAY + timedelta(days=60))]
    )
    assert (one.counts, one.coming, one.position) == (2_470_000, 5_000_000, 5_795_000)
    assert [(lot.quantity, lot.is_on_road) for lot in one.spoils] == [(1_675_000, True), (530_000, False)]


def test_what_is_out_of_date_is_not_said_to_last():
    last_day = TODAY + timedelta(days=9)
    one = outlook(
        parcels=[Parcel("Lot 1", 3_000_000, last_day)],
        brings=[Dated(TODAY + timedelta(days=4), 90_000, "an order")],
    )
    assert compute_run_out(one) == (last_day, last_day)
    weeks = {week.day: (week.low, week.high) for week in compute_fan(one, 2)}
    assert weeks[TODAY + timedelta(days=7)] == (340_000, 340_000)
    assert weeks[TODAY + timedelta(days=14)] == (0, 0)
    kept = outlook(
        parcels=[Parcel("Lot 1", 9_000_000, last_day)], takes=[Dated(last_day, 9_000_000, "a plan")]
    )
    slow = replace(kept, asked=replace(kept.asked, takes=()))
    assert slow.spoils == () and compute_fan(slow, 2)[-1].high == 0, "good for ten days, and then no more"


def test_the_least_brings_the_point_back_and_the_most_is_used_before_it_is_stale():
    """Ten days take 950 g, so that of 2,064 g 1,114 g are still here; 180 days take 17,100 g. By hand."""
    one = outlook(keeps_days=180)
    assert (one.least, one.most, one.amount) == (950_000, 15_900_000, 950_000)
    assert outlook(keeps_days=180, usual_parcel=5_000_000).amount == 5_000_000
    assert outlook(keeps_days=180, usual_parcel=400_000).amount == 1_200_000
    assert outlook(keeps_days=20, usual_parcel=5_000_000).amount == 786_000
    assert outlook(usual_parcel=25_000_000).most is None


def test_two_weeks_tell_nothing_yet_and_what_is_assumed_is_said():
    few = outlook(weekly=(0, 600_000))
    assert not few.use.is_known and few.use.a_week == 300_000
    assert few.use.sentence.replace("\u00a0", " ") == (
        "It is not known yet what a week takes: 2 weeks lie behind, 1 of them with use; 8 weeks, and 4 with use, are "
        "needed. It is assumed that weeks to come take what those so far did, 300 g on average."
    )
    guessed = outlook(weekly=(0, 600_000), guess=400_000)
    assert guessed.use.a_week == 400_000 and "your own guess" in guessed.use.sentence
    assert guessed.use.draws == (0, 400_000, 800_000)
    assert outlook(weekly=STEADY, guess=400_000).use.a_week == 665_000
    assert "none of it came yet" in outlook(weekly=()).use.sentence


def test_a_season_is_seen_after_a_year_and_drawn_towards_none():
    """Twice the mean in the weeks to come, a year before: with 8 uses against 8 of doubt, half of that is kept."""
    year = [2_000_000] * 8 + [1_000_000 - 8_000_000 // 44] * 44
    season = compute_season(year)
    assert season.uses == 8 and round(season.own, 2) == 2 and round(season.factor, 2) == Fraction(3, 2)
    assert compute_season(year[1:]) is None and compute_season([0] * 52) is None
    assert abs(learn_use(year, 26).a_week - learn_use(year[1:], 26).a_week * season.factor) <= 1


@pytest.mark.parametrize(
    ("usual", "spread", "days"),
    [(None, None, (5, 7, 9)), (10, None, (7, 10, 13)), (4, 0, (4,)), (2, 5, (0, 2, 7))],
)
def test_a_spread_that_nobody_said_is_assumed(usual, spread, days):
    leads = assume_leads(usual, spread, "Marsh Gate")
    assert leads.days == days and ("assumed" in leads.origin) == (spread is None)


def test_the_weeks_to_be_covered_are_those_on_the_road():
    leads = Leads((0, 7, 8, 14), "")
    assert leads.covered == (0, 1, 2, 2) and leads.window_days == 21 and leads.usual == 8
    assert leads.words == "0 to 14 days" and Leads((1,), "").words == "1 day"


def test_it_runs_out_between_an_early_week_and_a_late_one():
    lumpy = outlook(weekly=(0, 1_400_000) * 13)
    early, late = compute_run_out(lumpy)
    # The third use empties it: in the third week at the earliest with 12.5 %, and by the ninth with 91 %.
    assert (early - TODAY).days == 21 and (late - TODAY).days == 63
    assert compute_run_out(outlook(weekly=STEADY)) == (TODAY + timedelta(days=35),) * 2


def test_the_fan_starts_at_what_counts_and_only_falls():
    fan = compute_fan(
        outlook(weekly=(0, 1_400_000) * 13, takes=[Dated(TODAY + timedelta(days=3), 2_900_000, "a plan")])
    )
    assert (fan[0].day, fan[0].low, fan[0].high) == (TODAY, 3_000_000, 3_000_000)
    assert fan[1].high == 100_000, "the plan takes its part whatever the weeks would"
    assert all(one.low <= one.middle <= one.high for one in fan)
    assert all(later.high <= sooner.high for sooner, later in zip(fan, fan[1:], strict=False))


@pytest.mark.parametrize(
    "changes",
    [
        {"per_cast": Fraction(1_234_567, 3), "keeps_days": 183, "usual_parcel": 5_000_000},
        {"weekly": (123_457, 0, 612_345, 0) * 14, "brings": [Dated(TODAY, 1_000, "an order")]},
        {
            "weekly": (3, 0, 1, 0, 0) * 6,
            "unit": "items",
            "parcels": [Parcel("Lot 1", 40)],
            "per_cast": Fraction(7, 2),
        },
        {"parcels": [Parcel("Lot 1", 9_000_001, TODAY + timedelta(days=30))]},
        {
            "parcels": [Parcel("Lot 1", 3_000_001, TODAY + timedelta(days=60))],
            "brings": [Dated(TODAY, 5_000_001, "an order")],
            "keeps_days": 30,
        },
        {"weekly": (1, 0), "takes": [Dated(TODAY, 5_000_000, "a plan")]},
        {"weekly": ()},
    ],
)
def test_every_sum_of_a_working_comes_to_what_it_says(changes):
    one = outlook(**changes)
    workings = [explain_when(one), explain_how_much(one), explain_lasting(one, compute_run_out(one))]
    backtest = compute_backtest(one.asked.weekly, 3, 9_500, one.asked.unit)
    workings += [backtest.working] if backtest else []
    steps = [step for working in workings if working for step in working.steps]
    assert [fault for step in steps if (fault := find_fault(step))] == []
    assert "order again at" in told(workings[0])


def test_casts_left_are_whole_casts():
    assert outlook(per_cast=Fraction(450_000)).casts_left == 6
    assert outlook().casts_left is None


def test_the_textbook_stands_beside():
    """Steady weeks have no spread: ten days at 700 g a week are 1,000 g."""
    assert any("says 1,000\u00a0g" in note for note in explain_when(outlook()).notes)
    items = explain_when(outlook(weekly=(1, 0) * 13, unit="items", parcels=[Parcel("Lot 1", 9)]))
    assert any("Poisson" in note for note in items.notes)


def test_the_backtest_judges_each_use_by_those_before_it_alone():
    """The point is 1,000 g and 470 g of the use; then a heavy week, and before it two whose rest did not last."""
    weekly = [500_000] * 15 + [3_000_000, 500_000, 500_000]
    found = compute_backtest(weekly, 2, 9_500)
    assert [window.point for window in found.windows[:2]] == [1_470_000] * 2
    assert [window.enough for window in found.windows] == [470_001] * 5 + [0, 0, 470_001]
    assert found.windows[-1].used == 3_000_000 and found.windows[0].a_week == 475_000
    assert "Tried at 8 uses" in found.sentence
    assert compute_backtest(weekly[:10], 2, 9_500) is None
    assert compute_backtest([500_000] * 14, 2, 9_500).enough_pct100 == 9_400
