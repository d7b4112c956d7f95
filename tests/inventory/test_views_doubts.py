"""What is out of the ordinary is asked about once on the pages where it is typed, and nothing is written before."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Alloy, Cast, Equipment, Piece
from inventory.posting.casting import CastFacts, post_start
from inventory.posting.planning import post_begin
from inventory.queries.bench import loss_outlook
from inventory.queries.control import usual_loss
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import rows, silver, typed
from tests.support import once, problems, text_of

pytestmark = pytest.mark.django_db


def ticks(page: str) -> list[str]:
    return re.findall(r'name="sure" value="(\w+)"', page)


def send(bench, path: str, data: dict[str, object], *asked: str):
    """Send it, be asked exactly this, tick it all, and send it again."""
    response = bench.post(path, data)
    page = text_of(response)
    assert response.status_code == 422 and "Is this right?" in page
    for sentence in asked:
        assert sentence in page
    assert len(ticks(page)) == len(asked)
    return bench.post(path, data | {"sure": ticks(page)})


def eight_casts(lost: str = "0.1") -> None:
    """Enough for the studio to have a usual loss, the same each time."""
    for _ in range(8):
        w.cast_metal([(silver(), 50)], [w.piece("Leaf", 20)], back=str(30 - float(lost)))


def test_half_the_metal_lost_at_closing_is_asked_about(bench):
    lot = silver()
    data = typed(lot, back="")
    data |= rows("pieces", {"name": "Fern stud", "count": "2", "mass": "20"})
    response = send(
        bench, "/casts/record/", data, "30.00 g would be lost, 60 % of the charge: casts usually lose"
    )
    assert response.status_code == 302
    assert Cast.objects.get().is_closed and problems() == []


def test_nothing_is_written_before_the_tick(bench):
    lot = silver()
    bench.post("/casts/record/", typed(lot, back=""))
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == w.g(200) and not Cast.objects.exists()


def test_another_figure_is_asked_about_anew(bench):
    data = typed(silver(), back="")
    old = ticks(text_of(bench.post("/casts/record/", data)))
    response = bench.post("/casts/record/", data | {"back": "2", "sure": old})
    assert response.status_code == 422 and "28.00 g would be lost" in text_of(response)


def test_the_usual_loss_is_that_of_the_first_page(bench):
    eight_casts()
    usual = usual_loss(w.sterling())
    assert usual.upper_pct100 == 20
    assert usual == loss_outlook().family
    page = text_of(bench.post("/casts/record/", typed(silver(), back="29.6")))
    assert "0.40 g would be lost, 0.8 % of the charge: your casts usually lose at most 0.2 %." in page


def test_a_loss_does_not_lift_the_limit_that_it_is_held_against(bench):
    eight_casts()
    cast = w.cast_metal([(silver(), 50)], [w.piece("Leaf", 20)], back="29.9")
    piece = cast.pieces.get()
    data = {**once(), "day": "2026-03-05", f"piece-{piece.pk}": "11", "filings": ""}
    path = f"/casts/{cast.number}/finish/"
    response = send(bench, path, data, "9.00 g would be lost with the 0.10 g before, 18.2 % of the charge")
    assert response.status_code == 302
    assert usual_loss(w.sterling(), but=cast).upper_pct100 == loss_outlook().family.upper_pct100 == 20


def test_a_finished_weight_with_a_slipped_point_is_asked_about(bench):
    cast = w.cast_metal([(silver(900), 500)], [w.piece("Leaf", 9), w.piece("Bell", 200)], back="290.9")
    leaf = cast.pieces.get(name="Leaf")
    data = {**once(), "day": "2026-03-05", "finished": "0.86", "filings": ""}
    asked = "0.86 g is less than half of the 9.00 g that it weighed before."
    assert send(bench, f"/pieces/{leaf.pk}/finish/", data, asked).status_code == 302
    assert Piece.objects.get(pk=leaf.pk).state == "finished"


def test_ten_times_the_usual_charge_is_asked_about(bench):
    for _ in range(3):
        w.cast_metal([(silver(), 50)], [w.piece("Leaf", 20)], back="29.9")
    lot = silver(900)
    data = typed(lot, back="479.6", **rows("charge", {"what": f"lot-{lot.pk}", "mass": "500"}))
    asked = "500.00 g is 10 times what a charge of Sterling usually weighs here, 50.00 g."
    assert send(bench, "/casts/record/", data, asked).status_code == 302


def test_ten_times_the_powder_and_the_wax_are_asked_about_together(bench):
    flask = Equipment.objects.create(kind="flask", name="Steel 50 x 60")
    mould, green = w.buy(w.powder(), w.g(20_000), 90), w.buy(w.wax(), w.g(200), 8)
    for _ in range(3):
        before = {"powder": [w.Portion(mould, w.g(300))], "tree": [w.TreeRecord(w.wax(), w.g(3), green)]}
        w.cast_metal([(silver(), 50)], [w.piece("Leaf", 20)], back="29.9", flask=flask, **before)
    data = typed(
        silver(),
        flask=flask.pk,
        **rows("powder", {"lot": f"lot-{mould.pk}", "mass": "3 kg"}),
        **rows("tree", {"what": f"lot-{green.pk}", "quantity": "31"}),
    )
    asked = (
        "3,000 g is 10 times what this flask took the last time, 300.00 g.",
        "usually weighs here, 3.00 g.",
    )
    assert send(bench, "/casts/record/", data, *asked).status_code == 302


def test_ten_times_the_plan_is_asked_about_on_the_page_of_the_step(bench):
    plans.stock(fresh="2000", powder="20000", wax="200")
    cast = post_begin(plans.plan())
    page = text_of(bench.get(f"/casts/{cast.number}/tree/"))
    wax = re.search(r'value="(lot-\d+)" selected', page)
    assert wax is not None
    data = {**once(), "day": timezone.localdate().isoformat()}
    data |= rows("tree", {"what": wax[1], "quantity": "56"})
    asked = "56.00 g is 10 times what the plan says, 5.60 g."
    assert send(bench, f"/casts/{cast.number}/tree/", data, asked).status_code == 302


def test_a_day_long_past_is_asked_about(bench):
    today = timezone.localdate()
    lot = w.buy(w.grain(), w.g(200), 200, day=today - timedelta(days=90))
    w.buy(w.powder(), w.g(200), 2, day=today)
    slip = today - timedelta(days=61)
    data = typed(lot, day=slip.isoformat())
    assert send(bench, "/casts/record/", data, "is 61 days ago.").status_code == 302
    fine = typed(lot, day=(today - timedelta(days=60)).isoformat())
    assert bench.post("/casts/record/", fine).status_code == 302


def test_who_writes_an_old_notebook_in_is_not_asked_at_every_line(bench):
    lot = w.buy(w.grain(), w.g(200), 200)
    assert timezone.localdate() - w.DAY > timedelta(days=60)
    assert bench.post("/casts/record/", typed(lot)).status_code == 302


def test_metal_that_cannot_be_so_cold_is_asked_about(bench):
    Alloy.objects.filter(pk=w.sterling().pk).update(solidus_c=802, liquidus_c=893)
    response = send(bench, "/casts/record/", typed(silver(), metal_c="56"), "At 56 °C Sterling is not liquid")
    assert response.status_code == 302
    cast = Cast.objects.get()
    assert cast.metal_c == 56
    # What was answered is not asked again when something else is mended.
    mend = {**once(), "title": "fern studs", "day": cast.day.isoformat()}
    assert bench.post(f"/casts/{cast.number}/mend/", mend | {"metal_c": "57"}).status_code == 422
    assert bench.post(f"/casts/{cast.number}/mend/", mend | {"metal_c": "56 C"}).status_code == 302


def test_a_step_of_the_pour_asks_too(bench):
    Alloy.objects.filter(pk=w.sterling().pk).update(solidus_c=802, liquidus_c=893)
    bench.post("/casts/start/", {**once(), "title": "pods", "day": "2026-03-05", "alloy": w.sterling().pk})
    data = {**once(), "metal_c": "970", "flask_c": "1000"}
    assert send(bench, "/casts/1/pour/", data, "Are the two swapped?").status_code == 302


def test_a_delivery_a_count_and_metal_handed_in_long_ago_are_asked_about_too(bench):
    today = timezone.localdate()
    lot = w.buy(w.grain(), w.g(200), 200, day=today - timedelta(days=90))
    w.buy(w.powder(), w.g(200), 2, day=today)
    long_ago = {"day": (today - timedelta(days=61)).isoformat()}
    delivery = {"supplier": w.supplier().pk, "spread_by": "value"}
    delivery |= rows("lines", {"material": w.grain().pk, "quantity": "20", "price": "20"})
    pages: dict[str, dict[str, object]] = {
        "/buying/deliveries/new/": delivery,
        f"/stock/lots/{lot.pk}/count/": {"counted": "190"},
        "/stock/handed-in/": {"customer": w.customer().pk, "material": w.grain().pk, "mass": "30"},
    }
    for path, data in pages.items():
        assert send(bench, path, {**once(), **long_ago, **data}, "is 61 days ago.").status_code == 302
    assert problems() == []


def test_a_delivery_ten_times_as_dear_or_as_heavy_is_asked_about(bench):
    grain = w.grain()
    w.buy(grain, w.g(300), 366)
    data = once() | {
        "new_supplier": "Marsh Gate",
        "day": str(w.DAY),
        "spread_by": "value",
        **rows("lines", {"material": str(grain.pk), "quantity": "3000", "price": "366"}),
    }
    asked = "so much of it would have cost 3,660.00; this says 366.00"
    assert send(bench, "/buying/deliveries/new/", data, asked).status_code == 302


def test_a_mended_price_ten_times_as_high_is_asked_about(bench):
    lot = w.buy(w.grain(), w.g(300), 366)
    data = once() | {f"price_{lot.pk}": "3660", "charges": "0", "day": str(w.DAY)}
    address = f"/buying/deliveries/{lot.delivery_id}/bill/"
    assert send(bench, address, data, "would have cost 366.00; this says 3,660.00").status_code == 302


def test_what_is_wrong_stands_alone_above_what_was_asked_and_answered(bench):
    data = typed(silver(), day="2011-03-02")
    asked = bench.post("/casts/record/", data)
    refused = bench.post("/casts/record/", data | {"sure": ticks(text_of(asked))})
    page = text_of(refused)
    assert refused.status_code == 422 and not Cast.objects.exists()
    assert "One thing to mend" in page and "Is this right?" not in page
    # The answer is still there, for when the mistake is mended.
    assert re.search(r'name="sure"[^>]* checked', page)


def test_a_cast_that_joins_an_earlier_firing_says_whose_share_changes(bench):
    firing = w.fire(wh=12_000)
    first = w.cast_metal([(silver(), 30)], [w.piece("Leaf", 20)], back=9)
    first.firing = firing
    first.save()
    said = (
        f"Firing {firing.pk} took 12 kWh. What earlier casts carry of it would change: cast 1 from 12 kWh to"
    )
    data = typed(silver()) | {"firing": firing.pk}
    assert send(bench, "/casts/record/", data, f"{said} 6 kWh.").status_code == 302
    third = post_start(CastFacts("Buds", w.DAY, w.sterling()))
    address = f"/casts/{third.number}/firing/"
    assert "from 6 kWh to 4 kWh" in text_of(bench.post(address, {"firing": firing.pk, **once()}))
    kept = {"kiln": firing.kiln_id, "day": "2026-03-02", "minutes": "12:00", "casts": [first.pk]}
    meter = {"meter_before_wh": "100", "meter_after_wh": "112"}
    page = text_of(bench.post(f"/firings/{firing.pk}/edit/", kept | meter))
    assert "cast 1 from 6 kWh to 12 kWh, cast 2 from 6 kWh to 0 kWh" in page
    assert Cast.objects.filter(firing=firing).count() == 2


def test_a_flask_that_stood_in_the_firing_already_is_asked_about(bench):
    flask, firing = plans.flask(), w.fire()
    post_start(CastFacts("Leaves", w.DAY, w.sterling(), flask=flask))
    Cast.objects.update(firing=firing)
    data = typed(silver()) | {"firing": firing.pk, "flask": flask.pk}
    send(bench, "/casts/record/", data, f"Flask 75 x 100 stood in firing {firing.pk} already, with cast 1.")
