"""The first page: what needs doing today."""

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone

from inventory.models import Supplier
from inventory.posting.casting import CastFacts, post_charge, post_start
from inventory.posting.pieces import post_finish
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import silver
from tests.support import text_of, words_of

pytestmark = pytest.mark.django_db


def test_the_day_is_the_heading(bench):
    today = timezone.localdate()
    assert f"<h1>{today:%A} {today.day} {today:%B}</h1>" in text_of(bench.get("/"))


def test_an_empty_studio_is_told_what_to_do_first(bench):
    page = text_of(bench.get("/"))
    assert "What to do first" in page
    order = ["alloys you cast", "metal you have", "powder, wax", "kiln, flasks", "your last cast"]
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_what_is_done_of_the_beginnings_is_said(bench):
    silver()
    page = text_of(bench.get("/"))
    assert "Enter the metal you have: done" in page
    assert "kiln, flasks and crucibles: done" not in page


def test_the_cast_that_is_furthest_on_stands_first_and_large(bench):
    post_start(CastFacts("leaves", timezone.localdate(), w.sterling()))
    on = post_start(CastFacts("pods", timezone.localdate(), w.sterling()))
    post_charge(on, [w.Portion(silver(), w.g(20))], w.DAY)
    page = text_of(bench.get("/"))
    assert '<h2 id="next-heading">Pour</h2>' in page
    assert page.index("Cast 2, pods") < page.index("/casts/1/")
    assert "leaves: weigh the tree" in page


def test_a_cast_open_for_weeks_is_pointed_out(bench):
    post_start(CastFacts("leaves", timezone.localdate() - timedelta(days=40), w.sterling()))
    assert "It has been open for 40 days." in text_of(bench.get("/"))


def test_without_a_cast_under_way_one_can_be_started(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    page = text_of(bench.get("/"))
    assert "No cast is under way" in page and "/casts/start/" in page


def test_metal_for_the_pot_opens_to_its_sum(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    page = text_of(bench.get("/"))
    assert "100.00 g" in page and "59.00 g" in page and "50.00 g" in page
    assert "Sterling: reclaim for the next charge" in page


def test_customers_metal_is_listed_apart(bench):
    post_handed_in(w.customer(), w.grain(), w.g(61), w.DAY)
    page = text_of(bench.get("/"))
    assert "Customers' own metal" in page.replace("&#x27;", "'") and "Ilse Quill: 61.00 g Sterling" in page


def test_each_metal_leads_to_the_lots_its_figures_are_of(bench):
    theirs, grain = w.customer(), w.grain()
    post_handed_in(theirs, grain, w.g(61), w.DAY)
    silver()
    page = bench.get("/").content.decode()
    assert f"?alloy={grain.alloy_id}&amp;owner={theirs.pk}" in page
    assert f"?alloy={grain.alloy_id}&amp;owner=null" in page


def test_powder_tells_when_to_order(bench):
    today = timezone.localdate()
    material = w.powder()
    material.supplier = Supplier.objects.create(name="Clay Lane", lead_time_days=11)
    material.save()
    mould = w.buy(material, w.g(5000), 30, day=today - timedelta(days=100))
    lot = silver()
    for weeks in range(1, 9):
        w.cast_metal(
            [(lot, 20)],
            [w.piece("Leaf", 8)],
            back="11.9",
            day=today - timedelta(days=7 * weeks),
            powder=[w.Portion(mould, w.g(500))],
        )
    page = words_of(bench.get("/"))
    said = r"Order 5.00 kg now from Clay Lane: 1.00 kg left, and up to 1.\d+ kg may be taken before a parcel comes"
    assert re.search(said, page), page[page.index("To order") :][:400]


def test_an_opened_tub_tells_until_when_it_is_good(bench):
    lot = w.buy(w.powder(), w.g(5000), 30, use_by=date(2199, 2, 2))
    lot.opened_on = w.DAY
    lot.save()
    assert f"Lot {lot.pk}, Investment powder</a>, was opened" in text_of(bench.get("/"))


def test_losses_are_drawn_with_their_figures(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    page = text_of(bench.get("/"))
    assert "<svg" in page and "The same in figures" in page and "Cast 1" in page


def test_what_waits_is_named(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40, 5)], back=59)
    stale, damp = (w.buy(w.powder(), w.g(1000), 6, use_by=day) for day in (w.DAY, None))
    damp.damp_on = w.DAY
    damp.save()
    page = text_of(bench.get("/"))
    assert "5 pieces to finish" in page
    assert f"Lot {stale.pk}, Investment powder</a>: past its last day" in page
    assert f"Lot {damp.pk}, Investment powder</a>: damp" in page


def test_all_that_waits_is_counted_each_with_its_list(bench):
    assert "Waiting:" not in text_of(bench.get("/"))
    finished = w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40, 2)], back=59).pieces.first()
    post_finish(finished, w.g("19.9"), 0, w.DAY)
    post_start(CastFacts("leaves", timezone.localdate(), w.sterling()))
    plans.stock()
    plans.plan()
    page = text_of(bench.get("/"))
    said = re.search(r'<p class="counts">(.*?)</p>', page)[1]
    assert (
        re.sub("<[^>]+>", "", said)
        == "Waiting: 1 cast under way, 1 plan, 1 piece to finish, 1 finished piece."
    )
    for address, there in re.findall(r'href="([^"]+)">(\d+)', said):
        assert bench.get(address).context["table"].paginator.count == int(there), address


def test_metal_is_one_line_an_alloy_and_what_may_go_in_is_said_once(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    w.buy(w.grain(w.fine_silver()), w.g(60), 60)
    page = text_of(bench.get("/"))
    part = page[page.index("metal-heading") : page.index("powder-heading")]
    assert part.count("<tr>") == 3, "the head, sterling and fine silver"
    assert ">0.00 g" not in part
    assert re.findall(r"(\w+(?: silver)?): reclaim for the next charge", part) == ["Sterling"]
    assert "More is" not in part and part.count('class="working-result"') == 1


def test_powder_past_its_day_is_said_once(bench):
    w.buy(w.powder(), w.g(1000), 6, use_by=w.DAY)
    w.buy(w.powder(), w.g(2000), 6, use_by=date(2199, 2, 2))
    page = text_of(bench.get("/"))
    assert page.count("past its last day") == 1 and "out of date" not in page
    assert "was good until" in text_of(bench.get("/buying/"))


def test_when_a_plan_is_next_seen_to_stands_on_a_line_of_its_own(bench):
    plans.stock()
    plans.plan()
    post_start(CastFacts("leaves", timezone.localdate(), w.sterling()))
    page = text_of(bench.get("/"))
    assert re.search(r'Plan: Fern leaves</a> <span class="after"><a href="/days/\d+/">\w{3} ', page)


def test_the_page_only_looks(bench):
    assert bench.post("/").status_code == 405
