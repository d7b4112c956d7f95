"""A cast that ends without a pour: metal goes back, what was used stays used and is set aside, and nothing is lost."""

from datetime import timedelta

import pytest

from costing.queries.costed import cost_casts
from inventory.models import Cast, Entry, Holder
from inventory.posting.buying import post_late_bill
from inventory.posting.casting import (
    CastFacts,
    Portion,
    PourNotes,
    TreeRecord,
    post_charge,
    post_powder,
    post_start,
    post_tree,
    record_pour,
)
from inventory.posting.casting_records import record_time
from inventory.posting.planning import note_moment
from inventory.posting.refusal import Refused
from inventory.posting.unpoured import post_unpoured, remove_begun, take_up_again
from tests import workshop as w
from tests.support import once, problems, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def begun(bench) -> Cast:
    """A cast with a tree, a mould and metal in its crucible."""
    cast = post_start(CastFacts("fern studs", w.DAY, w.sterling()))
    wax, powder, metal = (
        w.buy(w.wax(), w.g(50), 5),
        w.buy(w.powder(), w.g(900), 9),
        w.buy(w.grain(), w.g(100), 100),
    )
    post_tree(cast, [TreeRecord(wax.material, w.g(5), wax)], w.DAY)
    post_powder(cast, [Portion(powder, w.g(400))], None, w.DAY)
    post_charge(cast, [Portion(metal, w.g(40))], w.DAY)
    return cast


def test_metal_goes_back_and_the_rest_is_set_aside(begun):
    post_unpoured(begun, w.DAY, "the flask cracked")
    begun.refresh_from_db()
    assert (begun.outcome, begun.closed_on, begun.poured) == ("none", w.DAY, False)
    assert Holder.objects.get(lot__material__kind="metal").quantity == w.g(100)
    assert Holder.objects.get(lot__material__kind="powder").quantity == w.g(500)
    cost = cost_casts([begun.pk])[begun.pk].cost
    # 400 g of powder at 9.00 for 900 g, and 5 g of wax at 5.00 for 50 g.
    assert cost.set_aside_micro == cost.total_micro == w.money(4) + w.money("0.50")
    assert {aside.label for line in cost.lines for aside in line.set_aside} == {"Not poured"}
    assert problems() == []


def test_a_bill_that_came_meanwhile_stays_with_late_bills_and_the_page_says_so(bench, begun):
    metal = Holder.objects.select_related("lot__delivery").get(lot__material__kind="metal")
    post_late_bill(metal.lot.delivery, w.money(10), w.DAY)
    post_unpoured(begun, w.DAY)
    metal.refresh_from_db()
    # 60 of 100 g were on the shelf when the bill of 10.00 came.
    assert (metal.quantity, metal.cost_micro) == (w.g(100), w.money(106))
    page = text_of(bench.get(f"/casts/{begun.number}/"))
    assert "what a bill that came meanwhile put on it stands with late bills" in page
    assert problems() == []


def test_what_happened_stands_with_the_cast_and_with_the_metal_that_went_back(begun):
    record_pour(begun, PourNotes(metal_c=960))
    post_unpoured(begun, w.DAY, "the flask cracked")
    begun.refresh_from_db()
    assert (begun.poured, begun.note) == (False, "the flask cracked")
    assert Entry.objects.get(kind="reversal").note == "the flask cracked"


def test_one_of_which_anything_was_written_is_not_removed(bench):
    fired, poured, worked = (post_start(CastFacts("fern studs", w.DAY, w.sterling())) for _ in range(3))
    fired.firing = w.fire()
    fired.save()
    record_pour(poured, PourNotes(metal_c=960))
    record_time(worked, w.DAY, 20, "waxes")
    for cast in (fired, poured, worked):
        with pytest.raises(Refused, match="Something was written"):
            remove_begun(cast)


def test_a_mistake_goes_with_its_crucible_and_its_moments_and_leaves_no_trace(bench):
    cast = post_start(CastFacts("fern studs", w.DAY, w.sterling()))
    note_moment(cast, "powder")
    remove_begun(cast)
    assert not Holder.objects.filter(kind="crucible").exists()


def test_it_may_go_on_after_all(begun):
    post_unpoured(begun, w.DAY)
    take_up_again(begun)
    post_charge(begun, [Portion(w.buy(w.grain(), w.g(100), 100), w.g(40))], w.DAY)
    assert problems() == []
    with pytest.raises(Refused):
        take_up_again(begun)


def test_a_closed_cast_and_a_day_too_early_are_refused(begun):
    with pytest.raises(Refused, match="was used for it"):
        post_unpoured(begun, w.DAY - timedelta(days=1))
    later = post_start(CastFacts("studs", w.DAY, w.sterling()))
    with pytest.raises(Refused, match="Cast 2 is of .* that day or a later one"):
        post_unpoured(later, w.DAY - timedelta(days=1))
    post_unpoured(begun, w.DAY)
    with pytest.raises(Refused, match="closed already"):
        post_unpoured(begun, w.DAY)
    with pytest.raises(Refused, match="is closed"):
        post_charge(begun, [Portion(w.buy(w.grain(), w.g(9), 9), w.g(1))], w.DAY)


def test_one_that_used_nothing_is_removed_and_no_other(begun):
    mistake = post_start(CastFacts("by mistake", w.DAY, w.sterling()))
    remove_begun(mistake)
    assert list(Cast.objects.all()) == [begun]
    with pytest.raises(Refused, match="Something was written"):
        remove_begun(begun)
    assert problems() == []


def test_on_its_page_it_is_ended_read_and_taken_up_again(bench, begun):
    page = text_of(bench.get("/casts/1/"))
    assert "/casts/1/unpoured/" in page and "/casts/1/remove/" not in page
    said = text_of(
        bench.post("/casts/1/unpoured/", once() | {"day": str(w.DAY), "note": "it cracked"}, follow=True)
    )
    assert "without a pour" in said and "it cracked" in said
    for address in ("/", "/casts/", "/reports/metal-loss/", "/reports/cast-cost/?cast=1", "/casts/1/cost/"):
        assert bench.get(address, follow=True).status_code == 200, address
    assert "The cast goes on" in text_of(bench.post("/casts/1/goes-on/", once(), follow=True))
    assert Entry.objects.filter(kind="charge").count() == 1


def test_on_its_page_a_mistake_is_removed(bench):
    post_start(CastFacts("by mistake", w.DAY, w.sterling()))
    assert "/casts/1/remove/" in text_of(bench.get("/casts/1/"))
    assert bench.get("/casts/1/remove/").status_code == 200
    said = bench.post("/casts/1/remove/", once(), follow=True)
    assert "The cast is removed" in text_of(said) and not Cast.objects.exists()
