"""What is asked: kept with its day and reason, and what falls under its floor when metal moves."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from costing.models import AskedPrice, FinePrice, NamedRule, Policy, PricePractice
from costing.posting.prices import ask_prices
from costing.queries.asked import asked_or_offered
from costing.queries.pricing import read_failures
from inventory.models import Alloy, Design, Piece
from inventory.posting.designs import claim_pieces
from inventory.posting.pieces import post_melt_back, post_sale
from tests import workshop as w
from tests.support import count_queries, once, text_of

pytestmark = pytest.mark.django_db

UNDER, LIST = "/prices/under-the-floor/", "/prices/"
OUNCE_G = Decimal("31.1034768")


@pytest.fixture
def pieces(bench):
    """Sterling at 0.925 a gram: 10 g, 20 g and 40 g cost 9.25, 18.50 and 37.00, and nothing else.

    The floor leaves a margin of 40 %, so 15.42, 30.83 and 61.67; they are asked at 21, 40 and 80.
    """
    Policy.objects.create(from_day=w.DAY, retail_method="margin", retail_hundredths=5_000)
    floor = NamedRule.objects.create(name="Floor", method="margin", value_hundredths=4_000, metal="today")
    PricePractice.objects.create(pk=1, floor_rule=floor)
    set_silver(OUNCE_G, timezone.localdate() - timedelta(3))
    silver = w.buy(w.grain(), w.g(300), "277.50")
    cast = w.cast_metal(
        [(silver, 100)], [w.piece("Stud", 10), w.piece("Ring", 20), w.piece("Leaf", 40)], back=30
    )
    made = list(cast.pieces.order_by("number"))
    ask_prices(dict(zip(made, map(w.money, (21, 40, 80)), strict=True)), w.DAY, "first")
    return made


def _design(name):
    return Design.objects.create(name=name, alloy=w.sterling(), cast_mg=20_000, finished_mg=20_000)


def set_silver(an_ounce, day=None):
    FinePrice.objects.create(metal="silver", day=day or timezone.localdate(), price_micro=w.money(an_ounce))


def asked_of(piece):
    return [(one.price_micro // 1_000_000, one.reason) for one in piece.asked_prices.all()]


def names(answer):
    return [row.name for row, _, _ in answer.context["rows"]]


def test_silver_up_by_30_per_cent_by_hand_for_three_pieces(bench, pieces):
    """Arithmetic: at 1.2025 a gram they cost 12.025, 24.05 and 48.10, so 20.04, 40.08 and 80.17 must be left.

    21 holds, 40 and 80 do not. At a margin of 50 % they are 48.10 and 96.20, so 49 and 97 on a step of 1.00.
    """
    stud, ring, leaf = pieces
    assert names(bench.get(UNDER)) == []
    set_silver(OUNCE_G * Decimal("1.3"))
    listed = bench.get(UNDER)
    assert names(listed) == ["Ring", "Leaf"]
    assert [row.suggested_micro for row, _, _ in listed.context["rows"]] == [w.money(49), w.money(97)]
    assert "2 pieces are asked at less than their floor" in text_of(listed)
    typed = {
        f"take_{leaf.pk}": "on",
        f"price_{ring.pk}": "49.00",
        f"price_{leaf.pk}": "97.00",
        "day": str(timezone.localdate()),
        "reason": "silver up",
    }
    assert bench.post(UNDER, typed | once()).status_code == 302
    assert asked_of(leaf) == [(97, "silver up"), (80, "first")]
    assert (asked_of(ring), asked_of(stud)) == ([(40, "first")], [(21, "first")])
    assert names(bench.get(UNDER)) == ["Ring"]
    assert leaf.asked_prices.first().recorded_by.username == "Ada"


def test_all_are_accepted_at_once_also_those_on_other_pages(bench, pieces):
    _, ring, leaf = pieces
    silver = w.buy(w.grain(), w.g(300), "277.50")
    more = w.cast_metal([(silver, 100)], [w.piece("Bud", 60, 30)], back=40, day=w.DAY + timedelta(1))
    ask_prices(dict.fromkeys(more.pieces.all(), w.money(3)), w.DAY)
    set_silver(OUNCE_G * Decimal("1.3"))
    listed = bench.get(UNDER)
    assert listed.context["count"] == 32
    assert len(names(listed)) == 25
    # A price that was typed on the page counts; 2 g at a margin of 50 % are 4.81, so 5.
    first = listed.context["rows"][0][0].thing
    typed = {f"price_{first.pk}": "7", "day": str(timezone.localdate()), "reason": "", "all": "1"}
    assert bench.post(UNDER, typed | once()).status_code == 302
    assert names(bench.get(UNDER)) == []
    newest = {piece.pk: asked_of(piece)[0][0] for piece in Piece.objects.all()}
    assert newest.pop(first.pk) == 7
    assert (newest[ring.pk], newest[leaf.pk], newest[pieces[0].pk]) == (49, 97, 21)
    assert {newest[piece.pk] for piece in more.pieces.exclude(pk=first.pk)} == {5}


def test_a_piece_knows_the_metal_price_at_which_it_falls_under_its_floor(bench, pieces):
    """10 g × 0.925 × x ÷ 0.6 = 21, so x = 12.6 ÷ 9.25 a gram of silver, 42.36797 an ounce (arithmetic).

    Its cost is shown, and reckoned with, to four decimals: 12.60005 is the first that is not 12.6000, at 42.36814.
    """
    stud = pieces[0]
    assert "It holds up to pure silver at 42.3681 per ozt" in text_of(bench.get(f"/pieces/{stud.pk}/cost/"))
    set_silver("42.3681")
    assert "Stud" not in names(bench.get(UNDER))
    FinePrice.objects.filter(day=timezone.localdate()).update(price_micro=w.money("42.3682"))
    assert "Stud" in names(bench.get(UNDER))
    assert "It is under it." in text_of(bench.get(f"/pieces/{stud.pk}/cost/"))


def test_a_price_is_asked_for_one_piece_and_its_history_is_kept(bench, pieces):
    stud = pieces[0]
    address = f"/pieces/{stud.pk}/price/"
    assert 'value="21.00"' in text_of(bench.get(address))
    typed = {"price": "24", "day": str(timezone.localdate()), "reason": "hallmarked"}
    assert bench.post(address, typed | once()).status_code == 302
    shown = text_of(bench.get(address))
    assert shown.index("hallmarked") < shown.rindex("first")
    part = text_of(bench.get(f"/pieces/{stud.pk}/cost/?part=1"))
    assert "<b>Asked: 24.00, and Own table says 19.00 now.</b> It cost 9.25 GBP" in part
    # The same once more is no new price.
    assert bench.post(address, typed | once()).status_code == 302
    assert len(asked_of(stud)) == 2


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Tick at least one."),
        ({"take": "on", "price": ""}, "Write what is asked for it."),
        ({"take": "on", "price": "0"}, "Write at least 0.01."),
        ({"take": "on", "price": "1e9"}, "This cannot be read."),
        ({"take": "on", "price": "9", "day": "2999-01-01"}, "has not come yet"),
        ({"take": "on", "price": "9", "reason": "x" * 201}, "too long"),
    ],
)
def test_what_cannot_be_asked_is_refused_and_changes_nothing(bench, pieces, typed, sentence):
    key = pieces[0].pk
    sent = {"day": str(timezone.localdate()), "reason": "", f"price_{key}": typed.pop("price", "30")}
    sent |= {f"take_{key}": "on"} if typed.pop("take", "") else {}
    answer = bench.post(LIST, sent | typed | once())
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert AskedPrice.objects.count() == 3


def test_what_has_left_is_neither_listed_nor_priced(bench, pieces):
    stud, ring, leaf = pieces
    post_sale(stud, timezone.localdate())
    post_melt_back(ring, timezone.localdate())
    assert names(bench.get(LIST)) == ["Leaf"]
    typed = {f"take_{stud.pk}": "on", f"price_{stud.pk}": "30", "day": str(timezone.localdate())}
    assert bench.post(LIST, typed | once()).status_code == 422
    assert bench.get(f"/pieces/{ring.pk}/price/").status_code == 302
    assert names(bench.get(LIST, {"show": "none"})) == []
    assert leaf.asked_prices.count() == 1


def test_a_design_is_asked_at_a_price_that_its_new_pieces_are_offered_at(bench, pieces):
    """Arithmetic: a design of 20 g costs what the ring of 20 g does, 18.50, so 37 at a margin of 50 %."""
    _, ring, _ = pieces
    fan = _design("Fan")
    address, today = f"/pieces/designs/{fan.pk}/price/", str(timezone.localdate())
    assert 'value="37.00"' in text_of(bench.get(address))
    typed = {"price": "40", "day": today, "reason": "new this year"}
    assert bench.post(address, typed | once()).status_code == 302
    assert asked_of(fan) == [(40, "new this year")] and "new this year" in text_of(bench.get(address))
    cost = text_of(bench.get(f"/pieces/designs/{fan.pk}/cost/?part=1"))
    assert "Asked: 40.00, and Own table says 37.00 now." in cost and "What is asked leaves" in cost
    assert names(bench.get(LIST, {"show": "designs"})) == ["Fan"]

    silver = w.buy(w.grain(), w.g(300), "277.50")
    new = w.cast_metal([(silver, 100)], [w.piece("Fan", 22)], back=78, day=w.DAY + timedelta(1)).pieces.get()
    claim_pieces(fan)
    new.refresh_from_db()
    offered = [row.offered_micro for row, _, _ in bench.get(LIST).context["rows"] if row.thing == new]
    assert offered == [w.money(40)]
    assert 'value="40.00"' in text_of(bench.get(f"/pieces/{new.pk}/price/"))
    assert asked_or_offered([new, ring]) == {new.pk: w.money(40), ring.pk: w.money(40)}
    gold = Alloy.objects.create(name="Other", metal="gold", fineness=750, density_mg_cm3=15_500)
    Design.objects.filter(pk=fan.pk).update(alloy=gold)
    assert asked_or_offered([new]) == {}, "in another metal it is worth something else"
    Design.objects.filter(pk=fan.pk).update(alloy=w.sterling())

    set_silver(OUNCE_G * Decimal("1.3"))
    listed = bench.get(UNDER)
    assert names(listed) == ["Ring", "Leaf", "Fan"]
    assert "2 pieces and 1 design are asked at less than their floor" in text_of(listed)
    typed = {f"take_d{fan.pk}": "on", f"price_d{fan.pk}": "47", "day": today, "reason": "silver up"}
    assert bench.post(UNDER, typed | once()).status_code == 302
    assert asked_of(fan) == [(47, "silver up"), (40, "new this year")]
    assert (names(bench.get(UNDER)), asked_of(ring)) == (["Ring", "Leaf"], [(40, "first")])
    Design.objects.filter(pk=fan.pk).update(alloy=None)
    assert bench.get(address).status_code == 302
    assert bench.post(UNDER, typed | once()).status_code == 422, "it has no price any more"


def test_the_lists_ask_no_more_of_many_pieces(bench, pieces):
    def read():
        assert bench.get(UNDER).status_code == bench.get(LIST).status_code == 200

    ask_prices({_design("Fan"): w.money(3)}, w.DAY)
    set_silver(OUNCE_G * 2)
    few = count_queries(read)
    silver = w.buy(w.grain(), w.g(900), 900)
    for days in (1, 2, 3):
        cast = w.cast_metal([(silver, 100)], [w.piece("Bud", 60, 10)], back=40, day=w.DAY + timedelta(days))
        ask_prices(dict.fromkeys(cast.pieces.all(), w.money(3)), w.DAY)
        ask_prices({_design(f"Bud {days}"): w.money(3)}, w.DAY)
    assert count_queries(read) == few


def test_failures_come_from_the_studios_own_record(pieces):
    post_melt_back(pieces[0], timezone.localdate())
    silver = w.buy(w.grain(), w.g(100), 100)
    w.cast_metal([(silver, 50)], [], back="49.8", failed=True, day=w.DAY + timedelta(1))
    found = read_failures(timezone.localdate(), 3_000)
    assert (found.poured, found.failed, found.castings, found.put_back) == (2, 1, 3, 1)
    # Half of the casts, and two thirds of their castings, get through.
    assert found.failed_pct100 == 6_667
    assert read_failures(w.DAY - timedelta(1), 3_000).poured == 0


def test_a_studio_without_cost_rules_hears_so_and_one_figure(bench):
    """Three beads cost 2.65 together: 0.88, 0.88 and 0.89 add up to it, and each page says the same of one."""
    lot = w.buy(w.grain(), w.g(30), "26.50")
    cast = w.cast_metal([(lot, 30)], [w.piece("Bead", 3, 3)], back=27)
    beads = list(cast.pieces.order_by("number"))
    listed = {row.name: row.cost_micro for row, _, _ in bench.get(LIST).context["rows"]}
    assert sum(listed.values()) == 2_650_000
    for bead in beads:
        told = f"{listed[bead.name] / 1_000_000:.2f}"
        costed = text_of(bench.get(f"/pieces/{bead.pk}/cost/"))
        assert f"It cost {told}" in costed and "no cost rules yet" in costed
        assert "your cost rules" not in costed and "by the cost rules" not in costed
        assert f"<dt>It cost</dt><dd>{told}" in text_of(bench.get(f"/pieces/{bead.pk}/price/"))
    assert "Costs today" not in text_of(bench.get(LIST))
    assert "your cost rules" not in text_of(bench.get(f"/casts/{cast.number}/cost/"))
