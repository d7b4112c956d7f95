"""The limits of what is usually lost: set by the first casts of a family, frozen, and set anew with a reason."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.core.control_chart import BASE_CASTS, Rule
from inventory.models import Equipment, LossLimits, Studio
from inventory.posting.casting import PourNotes
from inventory.posting.control import set_limits
from inventory.posting.refusal import Refused
from inventory.queries.bench import loss_outlook
from inventory.queries.control import family_limits, usual_loss
from tests import workshop as w
from tests.support import once, text_of

pytestmark = pytest.mark.django_db

# Grams lost of 100, about what a cast loses (common practice); invented.
USUAL = ("0.71", "0.75", "0.68", "0.74", "0.70", "0.77", "0.72", "0.69", "0.76", "0.73")


@pytest.fixture
def pot():
    if not Studio.objects.exists():
        w.make_studio()
    return w.buy(w.grain(), w.g(9_000), 9_000)


def cast(pot, lost, **more):
    return w.cast_metal([(pot, 100)], [w.piece("Leaf", 40)], back=str(60 - float(lost)), **more)


@pytest.fixture
def frozen(pot):
    for lost in USUAL * (BASE_CASTS // len(USUAL)):
        cast(pot, lost)
    return pot


def test_an_outlier_does_not_move_frozen_limits(frozen):
    before = usual_loss(w.sterling())
    assert before.is_frozen and before.count == BASE_CASTS
    for lost in ("4.00", "3.00", "0.10"):
        cast(frozen, lost)
    assert usual_loss(w.sterling()) == before


def test_a_gain_and_a_loss_are_both_signals_with_what_stands_in_the_record(frozen):
    crucible = Equipment.objects.create(kind="crucible", name="Graphite 2")
    pour = PourNotes(note="the torch went out", vacuum_inhg_tenths=210)
    for lost in ("0.72", "0.73"):
        cast(frozen, lost, pour=PourNotes(vacuum_inhg_tenths=285))
    odd = cast(frozen, "5.00", spill_mg=1_000, crucible=crucible, pour=pour)
    gain = cast(frozen, "0.20")
    found = loss_outlook().odd
    assert [(one.cast.number, one.signal.rule, one.signal.side) for one in found] == [
        (odd.number, Rule.BEYOND_THREE, 1),
        (gain.number, Rule.BEYOND_THREE, -1),
    ]
    assert found[0].record == [
        "1.00\u00a0g was spilt",
        "noted at the pour: the torch went out",
        "Graphite 2 was new",
        "the vacuum was low, 21 inHg where 28.5 is usual",
    ]


def test_each_family_has_limits_of_its_own_and_few_casts_have_none(frozen):
    copper = w.buy(w.grain(w.bronze()), w.g(500), 10)
    w.cast_metal([(copper, 100)], [w.piece("Hook", 50)], back=45, alloy=w.bronze())
    limits = family_limits()
    assert limits["silver"].limits is not None and limits["base"].limits is None
    assert loss_outlook().odd == (), "nothing is judged by another metal's limits"


def test_limits_are_set_anew_by_the_casts_that_the_studio_chooses(bench, frozen):
    for _ in range(10):
        cast(frozen, "2.00")
    page = text_of(bench.get("/casts/loss/"))
    assert "The limits were set by 20 casts and stay until you set them anew." in page
    asked = {**once(), "reason": "a new torch", "first": "21", "last": "30"}
    answer = bench.post("/casts/loss/silver/", asked, follow=True)
    assert "The limits of silver are set anew." in text_of(answer)
    assert "Set anew on" in text_of(answer) and "by casts 21 to 30: a new torch." in text_of(answer)
    assert usual_loss(w.sterling()).limits.mean == 200
    assert usual_loss(w.sterling()).is_frozen


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"first": "25"}, "There are 0 casts of silver in that span"),
        ({"first": "9", "last": "3"}, "This is after the last cast."),
        ({"reason": ""}, "This field is required."),
    ],
)
def test_limits_that_cannot_be_set_are_refused_beside_the_field(bench, frozen, changes, sentence):
    asked = {**once(), "reason": "a new torch", "first": "1", "last": "30"} | changes
    answer = bench.post("/casts/loss/silver/", asked)
    assert answer.status_code == 422 and not LossLimits.objects.exists()
    if changes != {"reason": ""}:
        assert sentence in text_of(answer)


def test_a_family_nobody_knows_has_no_page(bench, frozen):
    assert bench.get("/casts/loss/tin/").status_code == 404
    with pytest.raises(Refused, match="at least 8"):
        set_limits("silver", 1, 3, "few")


@pytest.mark.counts
def test_the_chart_asks_as_much_of_many_casts_as_of_few(bench, frozen):
    cast(frozen, "5.00")
    with CaptureQueriesContext(connection) as few:
        bench.get("/casts/loss/")
    for lost in ("5.00", "0.10", "4.00"):
        cast(frozen, lost)
    with CaptureQueriesContext(connection) as many:
        bench.get("/casts/loss/")
    assert len(many) == len(few)
