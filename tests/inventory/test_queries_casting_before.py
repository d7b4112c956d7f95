"""What was done the last time with an alloy and in a flask, and what is usual here."""

from datetime import date

import pytest

from inventory.models import Equipment
from inventory.posting.casting import CastFacts, post_powder, post_start
from inventory.posting.stock import post_handed_in
from inventory.queries.casting_before import Beginning, powder_of_flask, read_last_time
from inventory.queries.usual import usual_charge_mg, usual_tree_mg
from tests import workshop as w
from tests.support import count_queries

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def studio():
    return w.make_studio()


def flask(name: str) -> Equipment:
    return Equipment.objects.create(kind="flask", name=name)


def a_cast(grams: int = 50, **changes):
    lot = w.buy(w.grain(), w.g(grams), grams)
    return w.cast_metal([(lot, grams)], [w.piece("Leaf", grams - 30)], back="29.9", **changes)


def begun(**keys) -> Beginning:
    return Beginning(alloy=w.sterling().pk, **keys)


def test_the_latest_cast_in_the_same_flask_comes_before_a_later_one_in_another():
    small, large = flask("Steel 50"), flask("Steel 75")
    first, second = a_cast(flask=small), a_cast(flask=large)
    assert read_last_time(begun(flask=small.pk)).cast == first
    assert read_last_time(begun(flask=large.pk)).cast == second
    assert read_last_time(begun(flask=flask("Steel 90").pk)).cast == second
    assert read_last_time(begun()).cast == second


def test_casts_under_way_and_of_customers_metal_are_passed_over():
    usual = a_cast()
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    w.cast_metal([(theirs, 50)], [w.piece("Leaf", 20)], back="29.9", owner=w.customer())
    post_start(CastFacts("pods", date(2026, 3, 4), w.sterling()))
    assert read_last_time(begun()).cast == usual


def test_a_cast_to_be_like_gives_its_names_and_counts():
    lot = w.buy(w.grain(), w.g(100), 100)
    like = w.cast_metal([(lot, 100)], [w.piece("Stud", 20, 2), w.piece("Pod", 10)], back="69.9")
    last = read_last_time(begun(like=like))
    assert (last.cast, last.pieces) == (like, [("Stud", 2), ("Pod", 1)])
    assert [one.pk for one in last.charged] == [lot.pk]
    other = read_last_time(Beginning(alloy=w.bronze().pk, like=like))
    assert (other.cast, other.pieces) == (None, [("Stud", 2), ("Pod", 1)])


def test_a_flask_takes_what_it_took_last_time_in_all_its_bowls():
    steel, mould = flask("Steel 50"), w.buy(w.powder(), w.g(5000), 30)
    assert powder_of_flask(steel.pk) is None and powder_of_flask(None) is None
    a_cast(flask=steel, powder=[w.Portion(mould, w.g(300))])
    later = a_cast(flask=steel, powder=[w.Portion(mould, w.g(310))])
    post_powder(later, [w.Portion(mould, w.g(20))], None, w.DAY)
    a_cast(flask=steel)
    assert powder_of_flask(steel.pk) == w.g(330)


def test_what_is_usual_is_the_middle_of_the_last_casts_without_the_one_that_is_judged():
    green = w.buy(w.wax(), w.g(500), 8)
    casts = [a_cast(grams, tree=[w.TreeRecord(w.wax(), w.g(grams // 10), green)]) for grams in (50, 60, 900)]
    assert usual_charge_mg(w.sterling().pk) == w.g(60)
    assert usual_tree_mg() == w.g(6)
    assert usual_charge_mg(w.sterling().pk, but=casts[2].pk) is None, "two are too few to be usual"
    assert usual_charge_mg(w.bronze().pk) is None
    a_cast(50)
    assert usual_charge_mg(w.sterling().pk, but=casts[2].pk) == w.g(50)


@pytest.mark.counts
def test_it_asks_a_handful_of_questions_however_many_casts_there_are():
    steel = flask("Steel 50")
    a_cast(flask=steel)
    few = count_queries(lambda: read_last_time(begun(flask=steel.pk)))
    for _ in range(4):
        a_cast(flask=steel)
    assert count_queries(lambda: read_last_time(begun(flask=steel.pk))) == few <= 7
