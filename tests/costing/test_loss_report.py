"""Where the metal went: each stage by hand, in grams, fine metal and money, with how well it is known."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.models import Policy
from inventory.core.weighing import compute_weighing_uncertainty
from inventory.models import Equipment, Lot
from inventory.posting.casting import CastFacts, Portion, post_charge, post_found, post_start
from inventory.posting.pieces import post_finish
from inventory.posting.stock import post_count, post_scrap
from studio.kit.numerals import print_decimal
from tests import workshop as w
from tests.costing.printed_tables import page_tables
from tests.support import text_of

pytestmark = pytest.mark.django_db

PAGE = "/reports/metal-loss/"


@pytest.fixture
def silver(bench):
    """At 1.00 a gram."""
    Policy.objects.create(from_day=w.DAY, normal_loss_pct100=50, reclaim_resale_micro_per_kg=w.money(750))
    return w.buy(w.grain(), w.g(1_000), 1_000)


def lose(silver):
    """100 g: 40 in a leaf, 57 back, 1.50 spilt, 0.50 of filings, 1.00 lost; then each other stage of a loss."""
    pot = Equipment.objects.create(kind="crucible", name="Graphite 7")
    made = {"spill_mg": 1_500, "filings_mg": 500, "crucible": pot, "by": User.objects.get()}
    cast = w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back=57, **made)
    post_finish(cast.pieces.get(), w.g("39.60"), 300, w.DAY)
    post_found(cast, 200, Lot.Origin.SWEEPS, w.DAY)
    post_scrap(Lot.objects.get(origin="spill"), w.g("1.50"), w.DAY)
    post_scrap(Lot.objects.filter(origin="filings").order_by("pk")[0], w.g("0.50"), w.DAY)
    post_count(silver, w.g("899.95"), w.DAY)
    return cast


def test_each_stage_of_the_loss_stands_by_itself(bench, silver):
    lose(silver)
    rows = {row[0]: row[1:] for row in page_tables(bench, PAGE)["What was lost"]}
    # Charge, leaf, back, spill and filings were on the scale; the leaf before and after, and its filings.
    casting, finishing = (
        print_decimal(compute_weighing_uncertainty(10, count).tolerance_mg, 3, most=3, least=3) + " g"
        for count in (5, 3)
    )
    assert rows["Casting"] == ["1.00 g", f"± {casting}", "0.925 g", "1.00", ""]
    assert rows["Finishing"] == ["0.10 g", f"± {finishing}", "0.093 g", "0.10", ""]
    assert rows["Spill thrown away"][0] == "1.50 g" and rows["Filings and sweeps thrown away"][0] == "0.50 g"
    assert rows["Missing at counts, less what was found"][0] == "0.05 g"
    assert rows["Found later"][::4] == ["−0.20 g", "came back"]
    assert rows["Lost in all"][0] == "2.95 g" and rows["Lost in all"][3] == "2.95"
    assert "The 2.95 g at the top are not the 0.90 g here." in text_of(bench.get(PAGE))


def test_metal_in_a_crucible_is_named_by_its_cast(bench, silver):
    w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back=59)
    cast = post_start(CastFacts("studs", w.DAY, w.sterling()))
    post_charge(cast, [Portion(silver, w.g(46))], w.DAY)
    page = text_of(bench.get(PAGE))
    assert f"in the crucible of cast {cast.number} 46.00" in page and "buttons and sprues 59.00" in page


def test_casts_are_taken_together_by_crucible_and_by_person(bench, silver):
    lose(silver)
    tables = page_tables(bench, PAGE)
    # 0.50 of 100 g is normal: of 0.90 lost by now 0.40 is beyond it. 39.60 of 100 is in pieces.
    together = ["1", "100.00 g", "39.60 %", "0.90 g", "0.90 %", "0.40 g", "0.00 g", "0.90"]
    for caption, name in (
        ("By metal", "Sterling"),
        ("By month", "Mar 2026"),
        ("By crucible", "Graphite 7"),
        ("By who wrote the weights down", User.objects.get().username),
    ):
        assert tables[caption][1] == [name, *together]
    heads, grams, _ = tables["Where the grams of each cast are"]
    assert dict(zip(heads, grams, strict=True))["Spill"] == "1.50 g"


def test_a_loss_inside_the_weighing_says_so(bench, silver):
    w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back="59.99")
    page = text_of(bench.get(PAGE))
    assert "so no loss is shown: it is within weighing." in page
    assert page_tables(bench, PAGE)["What was lost"][1][-1] == "within weighing"
    assert page_tables(bench, PAGE)["Cast by cast"][1][-1] == "within weighing"


def test_the_three_policies_for_returned_sprue_are_named_and_add_up(bench, silver):
    """130 g at 107.00, 60 back, 68 in pieces, 2 lost (computed, invented inputs): 57.62, 62.00 and 61.37."""
    Policy.objects.update(normal_loss_pct100=100)
    pot = w.buy(w.grain(), w.g(130), 107)
    w.cast_metal([(pot, 130)], [w.piece("Leaf", 68)], back=60)
    rows = page_tables(bench, PAGE)["What good pieces carry"]
    assert [row[1:4] for row in rows[1:]] == [
        ["49.38", "57.62", "0.00"],
        ["45.00", "62.00", "0.00"],
        ["45.00", "61.37", "0.63"],
    ]
    assert "The book puts sprue back at what it cost." in text_of(bench.get(PAGE))


def test_less_lost_than_normal_is_told_as_a_gain_of_the_process_account(bench, silver):
    w.cast_metal([(silver, 100)], [w.piece("Leaf", 40)], back="59.80")
    assert page_tables(bench, PAGE)["By metal"][1][-2] == "0.30 g"
    assert "abnormal gain: 0.30 g" in text_of(bench.get(PAGE))


@pytest.mark.counts
def test_it_asks_no_more_of_many_casts(bench, silver):
    counts = []
    for days in (1, 6):
        for day in range(days):
            w.cast_metal([(silver, 30)], [w.piece("Leaf", 9)], back=20, day=w.DAY + timedelta(days=day))
        with CaptureQueriesContext(connection) as asked:
            bench.get(PAGE)
        counts.append(len(asked))
    assert counts[0] == counts[1]
