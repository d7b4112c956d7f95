"""What to cast next: the order by what an hour leaves, and the one sentence."""

from dataclasses import replace

from costing.core.next_cast import Prospect, rank_prospects, say_next_cast

UNIT = 1_000_000
STUD = Prospect(
    name="Stud", profit_micro=90 * UNIT, hour_micro=30 * UNIT, flask_micro=80 * UNIT, sold=6, here=2, coming=0
)
RING = replace(STUD, name="Ring", hour_micro=45 * UNIT, flask_micro=60 * UNIT)
LEAF = replace(STUD, name="Leaf", hour_micro=None, flask_micro=500 * UNIT)


def test_the_hour_at_the_bench_comes_first_and_the_flask_where_no_time_is_known():
    bud = replace(LEAF, name="Bud", flask_micro=600 * UNIT)
    assert [one.name for one in rank_prospects([STUD, LEAF, RING, bud])] == ["Ring", "Stud", "Bud", "Leaf"]


def test_what_is_here_or_planned_in_the_number_that_went_is_not_cast():
    said = say_next_cast([replace(RING, here=6), replace(STUD, here=0, coming=3)])
    assert said == (
        "Cast Stud next: it leaves 30.00 for an hour at the bench and 80.00 for a flask; 6 went in the last 8 weeks "
        "and none is left, with 3 planned."
    )
    # 6 in 8 weeks: 9 last 12 weeks, 14 last 18.
    kept = say_next_cast([replace(RING, here=12, coming=2), replace(STUD, here=9)])
    assert kept.endswith("nothing has to be cast for the shelf. At that pace Stud lasts shortest, 12 weeks.")
    assert "nothing has to be cast" in say_next_cast([replace(RING, sold=0, here=0)])


def test_what_leaves_nothing_is_not_cast_and_unknown_time_is_said():
    assert "look at the prices" in say_next_cast([replace(RING, profit_micro=-UNIT)])
    assert say_next_cast([replace(RING, profit_micro=0), replace(LEAF, here=1)]) == (
        "Cast Leaf next: it leaves 500.00 for a flask, and no time at the bench is written down for it; 6 went in the "
        "last 8 weeks and 1 is left."
    )
