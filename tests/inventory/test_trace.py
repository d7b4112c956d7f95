"""Tracing on the page: every lot in a piece, every piece of a lot, the same in the files."""

import csv
import io
from collections import Counter
from contextlib import suppress
from fractions import Fraction
from random import Random

import pytest
from django.db import transaction

from inventory.core.trace import WHOLE
from inventory.models import Holder, Lot, Movement, Piece
from inventory.posting.casting import Portion
from inventory.posting.mending import Mend, post_mended
from inventory.posting.reclaim import post_apart, post_together
from inventory.posting.refusal import Refused
from inventory.queries.became import (
    ASIDE,
    AT_REFINER,
    BACK,
    BECAME,
    LOST,
    LOTS,
    MELTING,
    MISSING,
    PIECES,
    SCRAPPED,
    SETTLED,
    SOLD,
    STILL,
    what_became_of,
)
from inventory.queries.ledger import STANDING, standing_entries
from inventory.queries.trace import origins_of, shares_on
from tests import histories as h
from tests import workshop as w
from tests.inventory.test_two_hands import undone
from tests.support import count_queries, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def remelted(bench):
    """Three casts, each from the button of the one before and as much fresh metal of its own lot."""
    lots = [w.buy(w.grain(), w.g(100), 100) for _ in range(3)]
    powder = w.buy(w.powder(), w.g(900), 9, supplier_batch="B7")
    button = None
    for lot in lots:
        charge = [(lot, 20), (button, 20)] if button else [(lot, 40)]
        used = {"powder": [Portion(powder, w.g(200))]}
        cast = w.cast_metal(charge, [w.piece("Leaf", 20)], back=20, **used)
        button = Lot.objects.get(from_cast=cast)
    return lots


def test_a_piece_three_remelts_deep_names_every_lot(bench, remelted):
    page = text_of(bench.get("/reports/trace-piece/?cast=3&piece=1"))
    for lot, grams, share in zip(
        remelted, ("5.00 g", "5.00 g", "10.00 g"), ("25.00", "25.00", "50.00"), strict=True
    ):
        row = page.split(f"Lot {lot.pk}, Sterling grain")[1].split("</tr>")[0]
        assert grams in row and f"{share} %" in row
        assert f'<a href="/stock/lots/{lot.pk}/">Lot {lot.pk}, Sterling grain</a>' in page
    assert "melted 3 times" in page and "B7" in page and "200.00 g" in page


def test_a_lot_names_every_piece_that_it_is_in(bench, remelted):
    page = text_of(bench.get(f"/reports/trace-lot/?lot={remelted[0].pk}"))
    assert [f">{number}<" in page for number in (1, 2, 3)] == [True, True, True]
    assert all(f'<a href="/pieces/{piece.pk}/">Leaf</a>' in page for piece in Piece.objects.all())
    rows = list(csv.reader(io.StringIO(text_of(bench.get(f"/reports/trace-lot.csv?lot={remelted[0].pk}")))))
    assert [row[4] for row in rows if row and row[0] == "Leaf"] == ["5", "10", "20"]
    # By hand: 40 g went in and 60 g are left; of what was cast 20 g, 10 g and 5 g are pieces, and 5 g the last button.
    became = [
        (row[0], row[1])
        for row in rows
        if row and row[0] in (*BECAME.values(), "All that came into this lot")
    ]
    assert became == [
        ("Still in this lot", "60"),
        ("In pieces that are here", "35"),
        ("In other lots and tins", "5"),
        ("All that came into this lot", "100"),
    ]
    assert "button and sprues of cast 3" in page.split("Lots and tins that hold it now")[1]
    powder = Lot.objects.get(supplier_batch="B7")
    assert text_of(bench.get(f"/reports/trace-lot/?lot={powder.pk}")).count("Leaf") >= 3


def test_a_mended_charge_is_traced_as_it_should_have_been(bench, remelted):
    entry = standing_entries().filter(kind="charge").order_by("pk").first()
    other = w.buy(w.grain(), w.g(100), 100)
    post_mended({entry: Mend(entry.day, [Portion(other, w.g(40))])})
    page = text_of(bench.get("/reports/trace-piece/?cast=3&piece=1"))
    assert f"Lot {other.pk}," in page and f"Lot {remelted[0].pk}, S" not in page


def test_what_is_not_there_is_said(bench, remelted):
    assert "has no piece 9" in text_of(bench.get("/reports/trace-piece/?cast=3&piece=9"))
    assert "no lot 999" in text_of(bench.get("/reports/trace-lot/?lot=999"))


def test_metal_is_traced_through_a_tin_and_out_of_it(bench, remelted):
    buttons = list(Lot.objects.filter(origin="clean", holder__quantity__gt=0))
    spare = w.lot_of(w.cast_metal([(remelted[0], 30)], [w.piece("Stud", 20)], back=10), "clean")
    out = post_apart(post_together(w.tin(), [*buttons, spare], w.DAY), w.g(15), w.DAY)
    cast = w.cast_metal([(out, 10), (remelted[2], 10)], [w.piece("Pod", 19)], back=1)
    page = text_of(bench.get(f"/reports/trace-piece/?cast={cast.number}&piece=1"))
    # By hand: 20 g at a quarter, a quarter and a half of the three lots and 10 g of the first: a half, a sixth, a third
    # of half of it; the rest is the third.
    for lot, share in zip(remelted, ("25.00", "8.33", "66.67"), strict=True):
        assert f"{share} %" in page.split(f"Lot {lot.pk}, Sterling grain")[1].split("</tr>")[0]
    assert "melted 4 times" in page
    assert "Pod" in text_of(bench.get(f"/reports/trace-lot/?lot={remelted[1].pk}"))


def tangled(draw) -> None:
    """Charges, remelts and tins at random, in a small studio that has bought three lots."""
    tin, lots = w.tin(), [w.buy(w.grain(), w.g(200), 200) for _ in range(3)]
    for number in range(12):
        here = list(Lot.objects.filter(holder__quantity__gt=999, void=False).select_related("holder"))
        back = [lot for lot in here if lot.origin == "clean" and lot.tin_id is None]
        what = draw.randrange(3)
        if what == 0 and back:
            post_together(tin, draw.sample(back, min(2, len(back))), w.DAY)
        elif what == 1 and any(lot.tin_id for lot in here):
            [lot, *_] = [lot for lot in here if lot.tin_id]
            post_apart(lot, draw.randrange(1, lot.holder.quantity), w.DAY)
        else:
            chosen = draw.sample(here, min(3, len(here)))
            charge = [(lot, f"{draw.randrange(500, min(lot.holder.quantity, 9_000))}e-3") for lot in chosen]
            mass = sum(w.g(grams) for _, grams in charge)
            w.cast_metal(charge, [w.PieceGroup(f"Leaf {number}", mass // 3)], back=f"{mass - mass // 3}e-3")
    assert lots


def shares_by_lines(lot: Lot) -> dict[int, Fraction]:
    """Where a lot's metal came from, each line asked for what it was drawn from: fractions, never rounded."""
    if lot.origin == "bought":
        return {lot.pk: Fraction(1)}
    lines = Movement.objects.filter(target=lot.holder).select_related("entry", "source__lot")
    if lot.from_cast_id:
        lines = Movement.objects.filter(entry__kind="charge", entry__cast=lot.from_cast_id)
    lines = list(lines.select_related("source__lot"))
    total = sum(line.quantity for line in lines)
    found: dict[int, Fraction] = {}
    for line in lines:
        for one, share in shares_by_lines(line.source.lot).items():
            found[one] = found.get(one, 0) + share * Fraction(line.quantity, total)
    return found


@pytest.mark.parametrize("seed", (0, 2, 3))
def test_any_tangle_of_melts_and_tins_is_traced_as_its_lines_say(studio, seed):
    tangled(Random(seed))
    assert Lot.objects.filter(tin__isnull=False).exists()
    for button in Lot.objects.filter(from_cast__isnull=False).select_related("from_cast"):
        origins = origins_of(button.from_cast)
        assert sum(one.share for one in origins.sources) == WHOLE
        wanted = shares_by_lines(button)
        found = {one.lot.pk: Fraction(one.share, WHOLE) for one in origins.sources}
        assert all(abs(found.get(pk, 0) - share) < Fraction(1, 10**10) for pk, share in wanted.items())


class Follower:
    """What became of a lot, each standing line asked in turn: fractions, never rounded."""

    def __init__(self, lot: Lot) -> None:
        ends = (
            "source__lot",
            "target__lot",
            "source__piece",
            "target__piece",
            "source__cast",
            "target__cast",
        )
        self.lines = list(Movement.objects.filter(STANDING, quantity__gt=0).select_related("entry", *ends))
        self.known = {lot.holder_id: Fraction(1)}
        self.lot, self.own, self.rows = lot, 0, Counter()

    def share(self, holder) -> Fraction:
        if holder.pk not in self.known:
            into = [
                line for line in self.lines if line.target_id == holder.pk and line.entry.kind != "sent_back"
            ]
            mixed = [line for line in into if line.source.kind in ("lot", "crucible", "piece")]
            whole = sum(line.quantity for line in mixed)
            parts = [self.share(line.source) * line.quantity for line in mixed]
            found = [line for line in into if line.source.place == "lost"]
            if not whole and found:
                whole, parts = 1, [self.share(found[0].entry.cast.crucible_holder)]
            self.known[holder.pk] = sum(parts) / Fraction(whole or 1)
        return self.known[holder.pk]

    def follow(self) -> Counter:
        for line in self.lines:
            self._follow(line.source, line.target, line.quantity, line.entry.kind)
        for holder in Holder.objects.filter(quantity__gt=0).exclude(kind__in=("outside", "batch")):
            self.rows[holder.kind] += self.share(holder) * holder.quantity
        return self.rows

    def _follow(self, source, target, quantity, kind) -> None:
        if kind == "sent_back" and target.kind == "lot":
            self.rows["batch"] -= self.share(target) * quantity
        elif target.pk == self.lot.holder_id and source.place != "counted":
            self.own += quantity
        elif source.place in ("lost", "counted", "customer") and target.kind != "outside":
            self.rows[source.place] -= self.share(target) * quantity
        elif target.kind in ("outside", "batch") and source.kind not in ("outside", "batch"):
            self.rows[target.place or "batch"] += self.share(source) * quantity


ROWS = {
    "lot": (STILL, LOTS, ASIDE),
    "piece": (PIECES,),
    "crucible": (MELTING,),
    "batch": (AT_REFINER, SETTLED),
    "customer": (BACK, SOLD),
    "scrapped": (SCRAPPED,),
    "counted": (MISSING,),
    "lost": (LOST,),
}


def assert_told_as_followed(lot: Lot) -> set[str]:
    told, follower = what_became_of(lot, shares_on(lot)), Follower(lot)
    exact = follower.follow()
    assert sum(told.rows.values()) == told.total_mg == follower.own == sum(exact.values())
    for row, keys in ROWS.items():
        assert abs(sum(told.rows.get(key, 0) for key in keys) - exact[row]) <= len(BECAME)
    assert sum(told.lots.values()) == told.rows.get(LOTS, 0) + told.rows.get(ASIDE, 0)
    return set(told.rows)


#: All that moves metal, and casts most often. Few of many steps are refused.
WORK = (
    *(h.cast,) * 6,
    *(h.buy, h.find, h.clean, h.charge, h.part_with, h.put_together) * 2,
    *(h.take_in, h.top_up, h.hand_back, h.count, h.scrap, h.begin, h.reverse, h.take_apart),
    *(h.finish, h.finish_together, h.come_back, h.send, h.settle, h.send_back),
)


def test_every_gram_of_a_lot_is_told_of_whatever_a_studio_does():
    seen = set()
    for seed in (8, 15, 18):
        draw = Random(seed)
        with undone():
            h.begin_studio()
            for _ in range(60):
                with suppress(Refused), transaction.atomic():
                    draw.choice(WORK)(lambda below, draw=draw: draw.randrange(below) if below > 0 else 0)
            for lot in Lot.objects.filter(material__kind="metal", void=False):
                seen |= assert_told_as_followed(lot)
    assert seen == set(BECAME)


@pytest.mark.counts
def test_a_longer_book_asks_no_more(bench, remelted):
    addresses = ("/reports/trace-piece/?cast=1&piece=1", f"/reports/trace-lot/?lot={remelted[0].pk}")
    before = [count_queries(lambda address=address: bench.get(address)) for address in addresses]
    button = Lot.objects.filter(from_cast__number=3).get()
    w.cast_metal([(button, 5), (remelted[0], 20)], [w.piece("Pod", 10)], back=15)
    assert [count_queries(lambda address=address: bench.get(address)) for address in addresses] == before
