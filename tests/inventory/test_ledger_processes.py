"""Several people, and a process that dies: nothing is lost, nothing is half there, on both databases."""

import signal

from tests.databases import run_python, start_python

FURNISH = """
from tests import workshop as w
w.make_studio()
print(w.buy(w.grain(), w.g(100), 130).pk)
"""

DRAW = """
import sys
from inventory.models import Lot
from inventory.posting.refusal import Refused
from tests import workshop as w
lot = Lot.objects.get(pk=sys.argv[1])
posted = 0
for _ in range(10):
    try:
        w.cast_metal([(lot, 2)], [w.piece("Leaf", 1)], back="0.99")
        posted += 1
    except Refused:
        pass
print(posted)
"""

DIE_IN_THE_MIDDLE = """
import os, signal, sys
from inventory.models import Lot, Movement
from inventory.posting import book
from tests import workshop as w
lot = Lot.objects.get(pk=sys.argv[1])

def die(*args):
    os.kill(os.getpid(), signal.SIGKILL)

setattr(book.Book, sys.argv[2], die)
w.cast_metal([(lot, 50)], [w.piece("Leaf", 30)], back="19.9")
"""

STATE = """
import sys
from inventory.audit import run_audit
from inventory.models import Cast, Holder, Lot, Movement, Piece
lot = Lot.objects.get(pk=sys.argv[1])
wrong = sum(len(finding.problems) for finding in run_audit())
print(lot.holder.quantity, Cast.objects.count(), Piece.objects.count(), Movement.objects.count(), wrong)
"""


def test_eight_writers_on_one_lot_never_take_it_below_zero(real_database: str) -> None:
    lot = run_python(real_database, FURNISH).strip()
    writers = [start_python(real_database, DRAW, lot) for _ in range(8)]
    printed = [writer.communicate(timeout=120)[0] for writer in writers]
    assert [writer.returncode for writer in writers] == [0] * 8, printed
    # 100 g in casts of 2 g: of the 80 tried, 50 fit, whoever came first.
    assert sum(int(text) for text in printed) == 50
    quantity, casts, pieces, _, wrong = run_python(real_database, STATE, lot).split()
    assert (quantity, casts, pieces, wrong) == ("0", "50", "50", "0")


def test_a_process_killed_in_the_middle_of_posting_leaves_nothing(real_database: str) -> None:
    lot = run_python(real_database, FURNISH).strip()
    before = run_python(real_database, STATE, lot)
    for place in ("_movements", "_write_balances"):
        died = start_python(real_database, DIE_IN_THE_MIDDLE, lot, place)
        died.communicate(timeout=60)
        assert died.returncode == -signal.SIGKILL
        assert run_python(real_database, STATE, lot) == before
