"""Whatever a studio does, in whatever order, the promises of the ledger hold after each step."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from costing.queries import cost_casts
from inventory.audit import run_audit
from inventory.models import Cast, Entry, Holder, Lot, Movement, Piece, Studio
from inventory.posting.buying import post_late_bill
from inventory.posting.casting import post_found
from inventory.posting.pieces import post_finish, post_melt_back, post_sale
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_count, post_scrap
from tests import workshop as w

pytestmark = pytest.mark.django_db

Draw = Callable[[int], int]


@contextmanager
def rolled_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def pick(rows, draw: Draw):
    """One of some rows, or None when there are none."""
    found = list(rows.order_by("pk"))
    return found[draw(len(found))] if found else None


def day(draw: Draw):
    return w.DAY + timedelta(days=draw(40))


def buy(draw: Draw) -> None:
    w.buy(w.grain(), 1 + draw(90_000), draw(900), day(draw), carriage=draw(13))


def cast(draw: Draw) -> None:
    lots = list(Lot.objects.filter(void=False, owner=None, material__kind="metal").order_by("pk"))
    chosen = [lots[draw(len(lots))] for _ in range(1 + draw(3))] if lots else []
    charge = [(lot, f"{1 + draw(30_000)}e-3") for lot in {lot.pk: lot for lot in chosen}.values()]
    charge_mg = sum(w.g(grams) for _, grams in charge)
    out_mg = max(charge_mg - draw(2_000) + draw(30), 0)
    pieces_mg = out_mg * draw(100) // 100
    pieces = [] if draw(6) == 0 else [w.PieceGroup("Leaf", pieces_mg, 1 + draw(4))]
    back_mg = out_mg - pieces_mg if pieces else out_mg
    w.cast_metal(
        charge,
        pieces,
        back=f"{back_mg}e-3",
        day=day(draw),
        failed=not pieces,
        firing=w.fire() if draw(2) else None,
    )


def reverse(draw: Draw) -> None:
    entry = pick(Entry.objects.all(), draw)
    if entry:
        post_reversal(entry)


def finish(draw: Draw) -> None:
    piece = pick(Piece.objects.filter(void=False), draw)
    if piece:
        filings = draw(400)
        post_finish(piece, max(piece.holder.quantity - filings - draw(100) + draw(20), 1), filings, day(draw))


def part_with(draw: Draw) -> None:
    piece = pick(Piece.objects.filter(void=False), draw)
    if piece:
        (post_sale if draw(2) else post_melt_back)(piece, day(draw))


def find(draw: Draw) -> None:
    poured = pick(Cast.objects.filter(closed_on__isnull=False), draw)
    if poured:
        post_found(poured, 1 + draw(500), Lot.Origin.SWEEPS, day(draw))


def count_or_scrap(draw: Draw) -> None:
    lot = pick(Lot.objects.filter(void=False), draw)
    if lot and draw(2):
        post_count(lot, max(lot.holder.quantity + draw(200) - 100, 0), day(draw))
    elif lot:
        post_scrap(lot, 1 + draw(9_000), day(draw))


def bill(draw: Draw) -> None:
    lot = pick(Lot.objects.filter(delivery__isnull=False), draw)
    if lot:
        post_late_bill(lot.delivery, 1 + draw(9_000_000), day(draw))


STEPS = (buy, cast, cast, reverse, finish, part_with, find, count_or_scrap, bill)


def assert_promises_hold() -> None:
    assert [problem for finding in run_audit() for problem in finding.problems] == []
    assert not Holder.objects.filter(quantity__lt=0).exists()
    for costed in cost_casts(Cast.objects.values_list("pk", flat=True)).values():
        cost = costed.cost
        assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_promises_hold_after_every_step_of_any_history(data):
    def draw(below: int) -> int:
        return data.draw(st.integers(0, below - 1)) if below > 0 else 0

    with rolled_back():
        Studio.objects.all().delete()
        w.make_studio()
        w.buy(w.grain(), w.g(100), 130)
        for _ in range(data.draw(st.integers(3, 9))):
            before = (
                Movement.objects.count(),
                Entry.objects.count(),
                Cast.objects.count(),
                Lot.objects.count(),
            )
            try:
                with transaction.atomic():
                    STEPS[draw(len(STEPS))](draw)
            except Refused as refused:
                after = (
                    Movement.objects.count(),
                    Entry.objects.count(),
                    Cast.objects.count(),
                    Lot.objects.count(),
                )
                assert after == before, "a refused posting left something"
                assert refused.sentence.endswith(".")
            assert_promises_hold()
