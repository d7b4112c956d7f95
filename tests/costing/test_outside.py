"""Work and parts from outside: shared to the last unit, and a line of what a piece cost."""

import pytest
from django.db.models import Sum

from costing.core import inputs
from costing.models import OutsideShare, OutsideWork
from costing.posting.outside import write_outside
from costing.queries.costed import cost_casts
from tests import workshop as w
from tests.support import text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
UNIT = 1_000_000


@pytest.fixture
def cast():
    lot = w.buy(w.grain(), w.g(100), 100)
    return w.cast_metal([(lot, 80)], [w.piece("Leaf", 15), w.piece("Stud", 10), w.piece("Bud", 5)], back=50)


def line_of(cast):
    line = cost_casts([cast.pk])[cast.pk].cost.line(inputs.OUTSIDE)
    return line, list(line.piece_micro)


@pytest.mark.parametrize(
    ("basis", "shares"),
    [
        ("each", [10 * UNIT, 10 * UNIT, 10 * UNIT]),
        ("equal", [3_333_334, 3_333_333, 3_333_333]),
        ("mass", [5 * UNIT, 3_333_333, 1_666_667]),
    ],
)
def test_what_each_piece_carries_adds_up(cast, basis, shares):
    before = cost_casts([cast.pk])[cast.pk].cost.total_micro
    work = OutsideWork(kind="plate", day=w.DAY, basis=basis, amount_micro=10 * UNIT)
    write_outside(work, list(cast.pieces.order_by("number")))
    line, carried = line_of(cast)
    assert carried == shares
    assert line.total_micro == sum(shares) == (30 * UNIT if basis == "each" else 10 * UNIT)
    assert cost_casts([cast.pk])[cast.pk].cost.total_micro == before + sum(shares)
    assert "from outside" in line.working.formula


def test_it_is_written_changed_and_taken_out_on_its_page(bench, cast):
    first, second, _ = cast.pieces.order_by("number")
    page = bench.get(f"/pieces/outside/new/?piece={second.pk}")
    assert page.context["form"]["pieces"].value() == [second.pk]
    data = {"kind": "mark", "amount_micro": "4.50", "basis": "equal", "day": w.DAY.isoformat()}
    answer = bench.post("/pieces/outside/new/", data)
    assert answer.status_code == 422 and not OutsideWork.objects.exists()
    bench.post("/pieces/outside/new/", data | {"pieces": [first.pk, second.pk]})
    work = OutsideWork.objects.get()
    assert OutsideShare.objects.aggregate(all=Sum("amount_micro"))["all"] == 4_500_000
    bench.post(f"/pieces/outside/{work.pk}/", data | {"pieces": [second.pk]})
    assert OutsideShare.objects.get().piece == second
    assert "Work and parts from outside" in text_of(bench.get(f"/pieces/{second.pk}/cost/"))
    bench.post(f"/pieces/outside/{work.pk}/remove/")
    assert not OutsideShare.objects.exists()
