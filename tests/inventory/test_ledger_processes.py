"""Several people, and a process that dies: nothing is lost, nothing is half there, on both databases.

The processes are real ones, forked from one that has Django set up: to start each anew would take most of the time.
"""

from tests.databases import run_python

STATE = """
import multiprocessing, os, signal
from django.db import connections
from inventory.audit import run_audit
from inventory.models import Cast, Lot, Movement, Piece
from inventory.posting import book
from inventory.posting.refusal import Refused
from tests import workshop as w

fork = multiprocessing.get_context("fork")
w.make_studio()
lot = w.buy(w.grain(), w.g(100), 130).pk

def state():
    wrong = sum(len(finding.problems) for finding in run_audit())
    held = Lot.objects.get(pk=lot).holder.quantity
    return held, Cast.objects.count(), Piece.objects.count(), Movement.objects.count(), wrong
"""

EIGHT_WRITERS = f"""{STATE}
def draw():
    posted = 0
    for _ in range(10):
        try:
            w.cast_metal([(Lot.objects.get(pk=lot), 2)], [w.piece("Leaf", 1)], back="0.99")
            posted += 1
        except Refused:
            pass
    told.put(posted)

told = fork.SimpleQueue()
connections.close_all()
writers = [fork.Process(target=draw) for _ in range(8)]
for writer in writers:
    writer.start()
for writer in writers:
    writer.join()
held, casts, pieces, _, wrong = state()
print(sum(told.get() for _ in writers), held, casts, pieces, wrong)
"""

KILLED = f"""{STATE}
def die(*args):
    os.kill(os.getpid(), signal.SIGKILL)

def cast_and_die(place):
    setattr(book.Book, place, die)
    w.cast_metal([(Lot.objects.get(pk=lot), 50)], [w.piece("Leaf", 30)], back="19.9")

before = state()
for place in ("_movements", "_write_balances"):
    connections.close_all()
    writer = fork.Process(target=cast_and_die, args=[place])
    writer.start()
    writer.join()
    print(writer.exitcode == -signal.SIGKILL, state() == before)
"""


def test_eight_writers_on_one_lot_never_take_it_below_zero(real_database: str) -> None:
    # 100 g in casts of 2 g: of the 80 tried, 50 fit, whoever came first.
    assert run_python(real_database, EIGHT_WRITERS).split() == ["50", "0", "50", "50", "0"]


def test_a_process_killed_in_the_middle_of_posting_leaves_nothing(real_database: str) -> None:
    assert run_python(real_database, KILLED).split() == ["True"] * 4
