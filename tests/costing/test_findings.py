"""Findings of precious metal count as metal of a piece: its weight, fine metal, mark, and what it costs today."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from costing.core.price import replace_metal
from costing.models import FinePrice
from costing.queries.costed import cost_casts
from costing.queries.designs import cost_designs, find_designs
from costing.queries.pricing import basis_of, read_price_book
from inventory.core.findings import FindingMetal
from inventory.core.fineness import Known
from inventory.core.pieces import tell_mark
from inventory.models import Design, DesignPart, Material, Piece
from inventory.posting.stock import post_use
from tests import workshop as w
from tests.support import problems, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def stud(studio: Any) -> Piece:
    """A piece of 10 g of 925, on which two wires of 0.185 g of 999 are put, bought at 1.20 each."""
    alloy = w.sterling()
    fine = type(alloy).objects.create(name="Fine silver", metal="silver", fineness=999, density_mg_cm3=10_490)
    wires = Material.objects.create(
        name="Ear wires", kind="finding", unit="items", finding_alloy=fine, item_mg=185
    )
    cast = w.cast_metal([(w.buy(w.grain(), w.g(50), 50), 20)], [w.piece("Stud", 10)], back=10)
    piece = cast.pieces.get()
    post_use(w.buy(wires, 10, 12), 2, w.DAY, cast=cast, piece=piece)
    return piece


def test_a_piece_weighs_and_holds_what_its_findings_do(bench: Client, stud: Piece) -> None:
    """10 g of 925 and 0.37 g of 999 are 10.37 g, with 9.25 + 0.36963 g of fine silver (by hand)."""
    page = " ".join(text_of(bench.get(f"/pieces/{stud.pk}/")).replace("\xa0", " ").split())
    assert "With its findings" in page and "10.37 g, 9.620 g of it fine silver" in page
    assert "may be marked 925" in page and "with them it may not" not in page
    Material.objects.get(name="Ear wires").finding_alloy.__class__.objects.filter(fineness=999).update(
        fineness=800
    )
    assert "Its Ear wires are of 800: with them it may not be marked 925." in text_of(
        bench.get(f"/pieces/{stud.pk}/")
    )
    assert problems() == []


def test_a_mark_knows_of_findings_of_another_metal() -> None:
    said = tell_mark("silver", Known(60_000, 60_000 * 925), 9_000, [FindingMetal("posts", "gold", 750, 300)])
    assert "Its posts are of gold: ask your assay office" in said


def test_their_metal_is_bought_again_at_todays_price(stud: Piece) -> None:
    """Silver at 1.00 a gram when the wires came, at 1.30 now. The wires cost 2.40, of which 0.36963 is silver.

    So again they cost 2.40 − 0.36963 + 0.36963 × 1.30 = 2.510889; the cast metal, of 925, 9.25 × 1.30 = 12.025.
    """
    for days, price in ((-1, "1.00"), (1, "1.30")):
        FinePrice.objects.create(
            metal="silver", day=w.DAY + timedelta(days), price_micro=w.money(price), per_unit="g"
        )
    costed = cost_casts([stud.cast_id])[stud.cast_id]
    book = read_price_book([costed.cast.alloy])
    basis = basis_of(costed, 0, book.metals[costed.cast.alloy_id])
    assert basis.parts.cost_micro == w.money(10) + w.money("2.40")
    # Half a milligram of it is 0.0007: grams are whole milligrams of the alloy of the piece.
    assert abs(basis.parts.cost_today_micro - (w.money("12.025") + 2_510_889)) <= 700
    # What the piece's page works out comes to the same.
    metal_mg = costed.piece_mg[0] + costed.findings_of(0).metal_mg
    price = book.metals[costed.cast.alloy_id].micro_per_kg
    again, _ = replace_metal(basis.parts.cost_micro, basis.parts.metal_micro, metal_mg, 0, price)
    assert again == basis.parts.cost_today_micro


def test_a_design_moves_with_the_metal_of_its_findings_before_it_is_cast(bench: Client, stud: Piece) -> None:
    """The same sums as of the piece above: 10.00 + 2.40, and 12.025 + 2.510889 with silver at 1.30."""
    for days, price in ((-1, "1.00"), (1, "1.30")):
        FinePrice.objects.create(
            metal="silver", day=w.DAY + timedelta(days), price_micro=w.money(price), per_unit="g"
        )
    design = Design.objects.create(name="Fern", alloy=w.sterling(), cast_mg=10_000, finished_mg=10_000)
    DesignPart.objects.create(design=design, material=Material.objects.get(name="Ear wires"), quantity=2)
    (found,) = cost_designs([(find_designs([design.pk])[design.pk], None)])
    assert found is not None
    assert found.cost.parts.cost_micro == w.money("12.40")
    assert found.cost.parts.metal_micro == w.money(10) + 369_630
    assert abs(found.cost.parts.cost_today_micro - (w.money("12.025") + 2_510_889)) <= 700
    # Its floor moves by the same grams: 10 g and 0.3996 g of 925 that the wires are worth.
    assert found.find_floor(w.money(40), found.usual.way).metal_mg == 10_400
    assert "metal in its findings" in text_of(bench.get(f"/pieces/designs/{design.pk}/cost/"))
    # A lot that came before any price was written down: its metal is taken at today's.
    FinePrice.objects.filter(day__lt=w.DAY).delete()
    (found,) = cost_designs([(find_designs([design.pk])[design.pk], None)])
    assert found is not None and abs(found.cost.parts.metal_micro - w.money(10) - 480_519) <= 700


def test_what_is_not_known_of_a_finding_is_asked_for(bench: Client, studio: Any) -> None:
    alloy = w.sterling()
    sent = {"name": "Jump rings", "unit": "items", "finding_alloy": alloy.pk, "item_mg": ""}
    refused = bench.post("/stock/materials/new/?kind=finding", sent)
    assert refused.status_code == 422 and "Write what one weighs" in text_of(refused)
    refused = bench.post("/stock/materials/new/?kind=finding", sent | {"unit": "volume"})
    assert refused.status_code == 422 and "Metal is counted by mass or by items" in text_of(refused)
    assert bench.post("/stock/materials/new/?kind=finding", sent | {"item_mg": "0.12"}).status_code == 302
    assert Material.objects.get(name="Jump rings").item_mg == 120
