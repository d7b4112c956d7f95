"""A question that is kept says what the query says, and is put together once for each database."""

from collections.abc import Collection

import pytest
from django.db.models import Count, QuerySet

from inventory.models import Entry, KilnLog, Lot, Movement
from inventory.queries import kept as keeping
from inventory.queries.kept import count_of, kept, kept_for
from tests import workshop as w
from tests.inventory import kiln_logs

pytestmark = pytest.mark.django_db
QUERIES = {
    "days and numbers": lambda: Movement.objects.order_by("pk").values_list(
        "day", "source__place", "cost_micro"
    ),
    "yes and no": lambda: Lot.objects.order_by("pk").values_list("void", "melts_are_guess"),
    "what is kept as JSON": lambda: KilnLog.objects.order_by("pk").values_list("figures", "rates"),
    "groups": lambda: (
        Movement.objects.values_list("entry__kind").annotate(Count("pk")).order_by("entry__kind")
    ),
    "in another order": lambda: Lot.objects.annotate(n=Count("pk")).order_by("-pk").values_list("n", "pk"),
}


@pytest.fixture(autouse=True)
def cast(studio):
    kiln_logs.keep(w.fire())
    return w.cast_metal([(w.buy(w.grain(), w.g(100), 130), 50)], [w.piece("Leaf", 30)], back="19.9")


@pytest.mark.parametrize("query", QUERIES.values(), ids=QUERIES)
def test_it_says_what_the_query_says(query, monkeypatch):
    monkeypatch.setattr(keeping, "_AT_ONCE", 2)
    assert list(kept(query)()) == list(query()) != []


def test_it_is_put_together_once_for_its_arguments_and_asked_each_time():
    made = []

    @kept
    def entries(kind: str) -> QuerySet:
        made.append(kind)
        return Entry.objects.filter(kind=kind).order_by("pk").values_list("pk")

    first = list(entries("delivery"))
    w.buy(w.grain(), w.g(100), 130)
    assert len(list(entries("delivery"))) == len(first) + 1
    assert list(entries("scrap")) == []
    assert made == ["delivery", "scrap"]


def test_what_there_is_none_of_counts_as_nothing():
    assert list(kept(lambda: count_of(Entry.objects.all()))()) == [(Entry.objects.count(),)]
    assert list(kept(lambda: count_of(Entry.objects.filter(kind="scrap")))()) == [(0,)]


def test_one_for_some_keys_is_put_together_once_for_their_number():
    made = []

    @kept_for
    def lines(entries: Collection[int]) -> QuerySet:
        made.append(len(entries))
        both = Movement.objects.filter(entry__in=entries, day=w.DAY).order_by().values_list("entry", "line")
        return both.union(Movement.objects.filter(entry__in=entries).values_list("pk", "line"), all=True)

    for _ in range(3):
        w.buy(w.grain(), w.g(100), 130)
    keys = list(Entry.objects.values_list("pk", flat=True))
    assert len(keys) > 4
    for number in range(len(keys) + 1):
        found = list(lines(keys[-number:] if number else []))
        wanted = lines.__wrapped__(keys[-number:] if number else [0])
        assert sorted(found) == sorted(wanted)
        assert bool(found) == bool(number)
    made.clear()
    assert len(list(lines(keys[:3]))) > 3
    assert made == [], "four keys were asked for before"
