"""Several people, and a process that dies: nothing is lost, nothing is half there, on both databases."""

import os
import signal
from collections.abc import Iterator
from functools import partial

import pytest

from inventory.models import Cast, Lot, Movement, Piece
from inventory.posting.book import Book
from inventory.posting.refusal import Refused
from tests import workshop as w
from tests.databases import FORK, in_processes, standing_at
from tests.support import problems


@pytest.fixture
def lot(real_database: str, unblocked_database: None) -> Iterator[int]:
    """100 g of silver, on a database of its own."""
    with standing_at(real_database):
        w.make_studio()
        yield w.buy(w.grain(), w.g(100), 130).pk


def state(lot: int) -> tuple[int, ...]:
    held = Lot.objects.get(pk=lot).holder.quantity
    return held, Cast.objects.count(), Piece.objects.count(), Movement.objects.count(), len(problems())


def test_eight_writers_on_one_lot_never_take_it_below_zero(lot: int) -> None:
    told = FORK.SimpleQueue()

    def draw() -> None:
        posted = 0
        for _ in range(10):
            try:
                w.cast_metal([(Lot.objects.get(pk=lot), 2)], [w.piece("Leaf", 1)], back="0.99")
                posted += 1
            except Refused:
                pass
        told.put(posted)

    with in_processes(*[draw] * 8) as writers:
        pass
    # 100 g in casts of 2 g: of the 80 tried, 50 fit, whoever came first.
    assert sum(told.get() for _ in writers) == 50
    held, casts, pieces, _, wrong = state(lot)
    assert (held, casts, pieces, wrong) == (0, 50, 50, 0)


def test_a_process_killed_in_the_middle_of_posting_leaves_nothing(lot: int) -> None:
    def die(*_: object) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def cast_and_die(place: str) -> None:
        setattr(Book, place, die)
        w.cast_metal([(Lot.objects.get(pk=lot), 50)], [w.piece("Leaf", 30)], back="19.9")

    before = state(lot)
    for place in ("_movements", "_write_balances"):
        with in_processes(partial(cast_and_die, place)) as writers:
            pass
        assert writers[0].exitcode == -signal.SIGKILL
        assert state(lot) == before
