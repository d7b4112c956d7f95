"""Tracing on the page: every lot in a piece, every piece of a lot, the same in the files."""

import csv
import io
from fractions import Fraction
from random import Random

import pytest

from inventory.core.trace import WHOLE
from inventory.models import Lot, Movement, Piece
from inventory.posting.casting import Portion
from inventory.posting.mending import Mend, post_mended
from inventory.posting.reclaim import post_apart, post_together
from inventory.queries.ledger import standing_entries
from inventory.queries.trace import origins_of
from tests import workshop as w
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


@pytest.mark.counts
def test_a_longer_book_asks_no_more(bench, remelted):
    addresses = ("/reports/trace-piece/?cast=1&piece=1", f"/reports/trace-lot/?lot={remelted[0].pk}")
    before = [count_queries(lambda address=address: bench.get(address)) for address in addresses]
    button = Lot.objects.filter(from_cast__number=3).get()
    w.cast_metal([(button, 5), (remelted[0], 20)], [w.piece("Pod", 10)], back=15)
    assert [count_queries(lambda address=address: bench.get(address)) for address in addresses] == before
