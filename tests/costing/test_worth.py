"""Whether a day was worth it: the figures, the answer in words, the likeliest of its record, and where it stands."""

from dataclasses import replace
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.core.worth import DayFigures, compare_gram, middle_of, say_verdict
from costing.queries.worth import read_worth
from costing.reports.worth import WorthCard
from inventory.models import Cast, Studio
from inventory.posting.casting import CastFacts, PourNotes, TimeRecord, post_start
from tests import workshop as w
from tests.support import text_of
from tests.workings import find_fault

# 100 g in, 40 g kept; 70 in money, of which 30 is the metal in the pieces: 1.00 for each gram besides.
DAY = DayFigures(100_000, 59_000, 1_000, 7_200, w.money(70), w.money(30))


def costing(amount):
    return DayFigures(100_000, 59_000, 1_000, 7_200, w.money(30) + 40 * w.money(amount), w.money(30))


def test_a_gram_is_held_against_the_middle_of_good_casts():
    """By hand: 1.00 beside a middle of 0.80 is a quarter more; an outlier among the good ones moves nothing."""
    beside = compare_gram(DAY, [costing(one) for one in ("0.70", "0.80", "9.00")])
    assert beside is not None
    assert (beside.own_micro, beside.good_micro, beside.more_pct100) == (w.money(1), w.money("0.80"), 2_500)
    assert not beside.is_good
    assert say_verdict(DAY, False, beside).startswith("It came out, at 25")
    assert not any(find_fault(step) for step in beside.working.steps)
    assert compare_gram(replace(DAY, seconds=0), [costing("0.80")] * 3) is None, (
        "hours that are not written yet"
    )
    near = compare_gram(DAY, [costing("0.95")] * 3)
    assert near is not None and near.is_good
    assert say_verdict(DAY, False, near).startswith("Yes")


def test_too_few_good_casts_or_nothing_kept_are_not_compared():
    assert compare_gram(DAY, [costing("0.80")] * 2) is None
    assert middle_of([DAY, DAY], lambda one: one.kept_pct100) is None
    assert middle_of([DAY] * 4, lambda one: one.besides_per_g) == w.money(1)
    nothing = DayFigures(100_000, 99_000, 1_000, 0, w.money(9), 0)
    assert (nothing.kept_mg, nothing.besides_per_g) == (0, None)
    assert compare_gram(nothing, [DAY] * 3) is None
    assert say_verdict(nothing, True, None) == "No: nothing was kept."
    assert say_verdict(DAY, True, None).startswith("In part")
    assert say_verdict(DAY, False, None) == "It came out."
    assert DAY.besides_per_g == Fraction(w.money(1))


@pytest.fixture
def pot(studio):
    return w.buy(w.grain(), w.g(9_000), 9_000)


def cast(pot, vacuum=280, failed=False, note=""):
    pieces, back = ([], "99") if failed else ([w.piece("Leaf", 40)], "59.3")
    pour = PourNotes(vacuum_inhg_tenths=vacuum, note=note)
    return w.cast_metal(
        [(pot, 100)], pieces, back=back, pour=pour, failed=failed, bench=[TimeRecord(90, "all of it")]
    )


def card_of(made):
    studio = Studio.objects.get()
    worth = read_worth(made.number, studio)
    assert worth is not None
    return WorthCard(worth, studio)


@pytest.mark.django_db
def test_a_studio_of_five_casts_is_told_that_it_is_too_few(pot, bench):
    for _ in range(4):
        cast(pot)
    failed = cast(pot, 170, failed=True, note="it would not fill")
    card = card_of(failed)
    assert card.verdict == "No: nothing was kept."
    assert card.came.replace("\u00a0", " ").startswith("100.00 g of metal, 1 h 30 min and ")
    assert card.causes == [
        "the vacuum was low, 17 inHg where 28 is usual; your 5 casts are too few to tell whether that goes with "
        "failed ones."
    ]
    assert card.causes_lead == "In its record", "nothing is likeliest where nothing can be told"
    assert card.noted == "Noted at the pour: it would not fill."
    assert card.change.startswith("Read the gauge")
    page = text_of(bench.get(f"/casts/{failed.number}/worth/"))
    assert "too few to tell" in page and "Next time:" in page


@pytest.mark.django_db
def test_a_failed_cast_names_what_goes_with_failed_casts_and_a_good_one_nothing(pot, bench):
    for _ in range(9):
        good = cast(pot)
    low = [cast(pot, 170, failed=True) for _ in range(2)]
    came_out, unread, last = cast(pot, 175), cast(pot, None, failed=True), cast(pot)
    assert card_of(low[1]).causes[0].endswith("goes with failed casts, hardly by chance.")
    told = card_of(came_out)
    assert told.causes_lead.startswith("It came out, but") and len(told.causes) == 1
    plain = card_of(good)
    assert plain.causes_lead == "Nothing failed, and its record has nothing that goes with failed casts."
    assert (plain.change, plain.noted, plain.verdict) == ("", "", "Yes, as your good days are.")
    blank = card_of(unread)
    assert blank.causes_lead == "Nothing in its record stands out."
    assert blank.change.startswith(
        "Write down the vacuum, the temperature of the metal, that of the flask at"
    )
    assert len(blank.worth.good) == 10, "one that failed is no good day, and one after it was not known"
    assert f"/casts/{last.number}/" in text_of(bench.get("/casts/worth/?part=1"))
    assert bench.get("/casts/worth/")["Location"] == f"/casts/{last.number}/worth/"
    for part in (card_of(low[0]), plain):
        assert not any(
            "caus" in line for line in (part.verdict, part.came, part.against, part.change, *part.causes)
        )
        assert not any(find_fault(step) for working in part.workings for step in working.steps)


@pytest.mark.django_db
def test_it_stands_on_the_page_of_a_cast_and_on_the_first_once_one_is_weighed_out(pot, bench):
    begun = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    assert "worth it" not in text_of(bench.get("/"))
    assert "worth it" not in text_of(bench.get(f"/casts/{begun.number}/"))
    assert "when the weights after the pour are in" in text_of(
        bench.get(f"/casts/{begun.number}/worth/?part=1")
    )
    assert bench.get("/casts/worth/?part=1").status_code == 200
    assert bench.get("/casts/worth/")["Location"] == "/casts/"
    made = cast(pot)
    assert 'hx-get="/casts/worth/?part=1"' in text_of(bench.get("/"))
    assert f'hx-get="/casts/{made.number}/worth/?part=1"' in text_of(bench.get(f"/casts/{made.number}/"))
    assert bench.get("/casts/999/worth/").status_code == 404


@pytest.mark.django_db
def test_more_casts_ask_no_more(pot, bench):
    first = cast(pot, 170, failed=True)
    counts = []
    for more in (1, 4):
        for _ in range(more):
            cast(pot)
        newest = Cast.objects.latest("number")
        with CaptureQueriesContext(connection) as asked:
            assert bench.get(f"/casts/{newest.number}/worth/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1] < 45
    assert bench.get(f"/casts/{first.number}/worth/").status_code == 200
