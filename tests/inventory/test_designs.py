"""Designs: castings find them by name, they learn from their pieces, and a plan begins with one."""

from datetime import timedelta
from fractions import Fraction

import pytest
from django.db.models import Sum
from django.utils import timezone

from inventory.models import BenchShare, BenchTime, Design, DesignTime, Material, Piece, Plan
from inventory.posting.casting import CastFacts, Portion, post_charge, post_start
from inventory.posting.casting_records import record_time, record_tray
from inventory.posting.designs import claim_pieces
from inventory.posting.pieces import post_finish, post_melt_back
from inventory.queries.designs import learn, read_record
from inventory.views.designs import say_next
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import rows
from tests.support import count_queries, once, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def design(name="Leaf", **facts):
    return Design.objects.create(name=name, **({"alloy": w.sterling()} | facts))


@pytest.fixture
def cast():
    """Sterling: four leaves that weigh 20 g together, and two buds of 3 g each."""
    lot = w.buy(w.grain(), w.g(100), 100)
    return w.cast_metal([(lot, 80)], [w.piece("Leaf", 20, 4), w.piece("Bud", 6, 2)], back=53)


def leaves(cast):
    return list(
        cast.pieces.filter(name__startswith="Leaf").select_related("cast", "holder").order_by("number")
    )


def test_pieces_of_its_name_are_taken_in_numbered_or_not(cast):
    leaf = design()
    design("Leaf stud")
    assert claim_pieces(leaf) == 4
    assert {piece.name for piece in leaf.pieces.all()} == {"Leaf 1", "Leaf 2", "Leaf 3", "Leaf 4"}
    assert Piece.objects.filter(design=None).count() == 2


def test_it_learns_what_the_scale_and_the_clock_said(cast):
    leaf, bud = design(), design("Bud")
    claim_pieces(leaf)
    claim_pieces(bud)
    first, second, third, _ = leaves(cast)
    post_finish(first, w.g("4.5"), 0, w.DAY)
    post_finish(second, w.g("4.7"), 0, w.DAY)
    record_time(cast, w.DAY, 10, piece=first, task="file")
    record_tray([first, second], w.DAY, 5, "polish")
    post_melt_back(third, w.DAY)
    found = learn(leaf, read_record())
    assert (found.cast.value, found.cast.count) == (5_000, 4)
    assert found.finished.own.mean == 4_600
    # 0.5 g and 0.3 g of 5 g.
    assert found.loss.own.mean == Fraction(1000 + 600, 2)
    assert found.seconds.own.mean == (10 * 60 + 5 * 60) / 2
    assert found.by_task == {"file": 300, "polish": 150}
    assert found.failed.own.mean == 2_500


def test_metal_of_another_density_counts_by_its_space(cast):
    leaf = design()
    bronze = w.bronze()
    lot = w.buy(w.grain(bronze), w.g(100), 5)
    # A leaf of the same space in bronze: 5 g x 8.77 / 10.36.
    w.cast_metal([(lot, 50)], [w.piece("Leaf", "4.233")], back="45.767", alloy=bronze)
    claim_pieces(leaf)
    found = learn(leaf, read_record())
    assert abs(found.cast.own.mean - 5_000) < 1
    assert learn(leaf, read_record(), bronze.density_mg_cm3).cast.value == 4_233


def test_before_it_was_cast_it_is_what_was_written(cast):
    new = design("Fern", pattern_material=w.wax(), pattern_mg=480)
    DesignTime.objects.create(design=new, task="file", minutes=30, pieces=4)
    found = learn(new, read_record())
    # 0.48 g of wax at 0.96 takes 0.5 ml: 5.18 g of sterling.
    assert found.cast.value == 5_180 and not found.is_cast
    assert found.seconds.value == 450
    # Shown beside each other, masses have the decimals of the scale.
    finer = design("Moss", pattern_material=w.wax(), pattern_mg=356)
    assert learn(finer, read_record()).cast.value == 3_842
    assert (
        say_next(learn(finer, read_record()))
        == "The next one weighs 3.84\u00a0g as cast, 3.84\u00a0g finished."
    )


@pytest.mark.parametrize(
    ("basis", "shares"), [("equal", [140, 140, 140]), ("mass", [201, 134, 85]), ("", [140, 140, 140])]
)
def test_a_tray_shares_its_time_to_the_second(basis, shares):
    lot = w.buy(w.grain(), w.g(100), 100)
    made = w.cast_metal([(lot, 80)], [w.piece("A", 9), w.piece("B", 6), w.piece("C", "3.8")], back=61)
    pieces = list(made.pieces.order_by("number"))
    record_tray(pieces, w.DAY, 7, "tumble", basis=basis)
    assert list(BenchShare.objects.order_by("piece").values_list("seconds", flat=True)) == shares
    assert BenchShare.objects.aggregate(all=Sum("seconds"))["all"] == 7 * 60


def test_a_plan_of_a_failed_cast_tells_what_was_lost_with_it():
    plans.stock()
    leaf = design()
    plan = plans.plan()
    plan.parts.filter(label="Leaf").update(design=leaf)
    lot = w.buy(w.grain(), w.g(100), 100)
    plan.cast = w.cast_metal([(lot, 50)], [], back=50, failed=True)
    plan.save()
    assert learn(leaf, read_record()).failed.own.mean == 10_000


def test_reading_asks_as_often_for_many_as_for_one(cast):
    leaf = design()
    claim_pieces(leaf)
    few = count_queries(read_record)
    claim_pieces(design("Bud"))
    assert count_queries(read_record) == few


# The pages


def test_a_design_is_written_down_with_what_it_takes(bench, cast):
    wire = Material.objects.create(name="Ear wire", kind="finding", unit="items")
    data = {
        "name": "Leaf",
        "alloy": w.sterling().pk,
        "pattern_material": w.wax().pk,
        "pattern_mg": "0.46",
        "cast_mg": "5",
        **rows("takes", {"what": wire.pk, "quantity": "2"}),
        **rows("times", {"task": "file", "minutes": "20", "pieces": "4"}),
    }
    answer = bench.post("/pieces/designs/new/", data, follow=True)
    found = Design.objects.get()
    assert (found.pattern_mg, found.cast_mg) == (460, 5_000)
    assert found.parts.get().quantity == 2
    said = text_of(answer)
    assert "4 pieces have this name and no design" in said and "usually 20 min for 4 pieces" in said
    answer = bench.post(f"/pieces/designs/{found.pk}/claim/", follow=True)
    assert "4 pieces are of this design now." in text_of(answer)
    assert "The next one weighs 5.00 g as cast" in text_of(answer)
    edit = bench.get(f"/pieces/designs/{found.pk}/edit/")
    assert "0.46" in text_of(edit)


def test_what_cannot_be_is_refused_beside_its_field(bench):
    data = {"name": "Leaf", "cast_mg": "5", "finished_mg": "6", **rows("takes"), **rows("times")}
    answer = bench.post("/pieces/designs/new/", data)
    assert answer.status_code == 422 and "cannot weigh more finished" in text_of(answer)
    assert not Design.objects.exists()


def test_castings_that_are_weighed_out_find_their_design_by_name(bench):
    leaf, lot = design("Leaf"), w.buy(w.grain(), w.g(100), 100)
    cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
    post_charge(cast, [Portion(lot, w.g(80))], w.DAY)
    data = {
        **once(),
        **rows("pieces", {"name": "leaf", "count": "4", "mass": "20"}),
        "back": "60",
        "spent": "25",
        "task": "cut",
        "day": w.DAY.isoformat(),
    }
    bench.post(f"/casts/{cast.number}/weights/", data)
    assert leaf.pieces.count() == 4
    time = BenchTime.objects.get()
    assert (time.minutes, time.task, time.piece) == (25, "cut", None)


def test_finishing_together_shares_the_time_over_the_tray(bench, cast):
    leaf = design()
    claim_pieces(leaf)
    DesignTime.objects.create(design=leaf, task="file", minutes=12, pieces=1)
    first, second, *_ = leaves(cast)
    page = bench.get(f"/casts/{cast.number}/finish/")
    assert "Usually 48 min for these." in text_of(page)
    data = {**once(), f"piece-{first.pk}": "4.9", f"piece-{second.pk}": "4.9", "day": w.DAY.isoformat()}
    bench.post(f"/casts/{cast.number}/finish/", data | {"spent": "15", "task": "finish", "basis": "mass"})
    assert list(BenchShare.objects.values_list("seconds", flat=True)) == [450, 450]
    assert "shared by mass by 2 pieces" in text_of(bench.get(f"/casts/{cast.number}/"))
    assert "7 min 30 s" in text_of(bench.get(f"/pieces/{first.pk}/"))


def test_a_plan_begins_with_a_design_and_its_name_is_enough(bench):
    plans.stock()
    for needed in (plans.flask, w.kiln, plans.schedule):
        needed()
    leaf = design(pattern_material=w.wax(), pattern_mg=800)
    page = text_of(bench.get(f"/plans/new/?design={leaf.pk}"))
    assert 'hx-trigger="load, input' in page, "its sums are there before anything is typed"
    assert 'value="Leaf"' in page and 'value="0.8 g"' in page
    tomorrow = timezone.localdate() + timedelta(days=1)
    data = {
        **once(),
        "alloy": w.sterling().pk,
        "flask": plans.flask().pk,
        "powder": w.powder().pk,
        "kiln": w.kiln().pk,
        "schedule": plans.schedule().pk,
        "wish": "pour",
        "wish_at": f"{tomorrow}T18:30",
        "standing": "120",
        "button": "10",
        **rows("parts", {"label": "leaf", "count": "4", "mass": "", "material": w.wax().pk}),
    }
    bench.post("/plans/new/", data)
    part = Plan.objects.get().parts.get()
    assert (part.design, part.mass_mg) == (leaf, 3_200)


def test_a_piece_is_said_to_be_of_a_design(bench, cast):
    leaf, (first, *_) = design("Fern"), leaves(cast)
    bench.post(f"/pieces/{first.pk}/design/", {**once(), "design": leaf.pk})
    first.refresh_from_db()
    assert first.design == leaf
    bench.post(f"/pieces/{first.pk}/design/", {**once(), "design": ""})
    first.refresh_from_db()
    assert first.design is None
