"""A cast followed step by step on its own page, and what is written on it besides."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.forms.casting_steps import AS_PLANNED, BY_TURNS
from inventory.models import Cast, DayPractice, Entry, Equipment, KilnTurn, Lot, Material
from inventory.posting.casting import CastFacts, post_charge, post_start
from inventory.posting.pieces import post_finish
from inventory.posting.planning import post_begin
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import rows, silver
from tests.support import count_queries, once, problems, text_of

pytestmark = pytest.mark.django_db
DAY = "2026-03-05"


@pytest.fixture
def cast(bench) -> Cast:
    return post_start(CastFacts("fern studs", date(2026, 3, 4), w.sterling()))


def send(bench, step: str, number: int = 1, **data: object):
    return bench.post(f"/casts/{number}/{step}/", {**once(), "day": DAY, **data})


def closed(grams: int = 100, back: object = 59, **changes: object) -> Cast:
    return w.cast_metal([(silver(), grams)], [w.piece("Leaf", 40)], back=back, **changes)


def test_a_cast_is_followed_step_by_step(bench):
    lot, mould, green = silver(), w.buy(w.powder(), w.g(5000), 30), w.buy(w.wax(), w.g(100), 8)
    response = bench.post(
        "/casts/start/",
        {**once(), "title": "fern studs", "day": "2026-03-04", "alloy": w.sterling().pk},
    )
    assert response["Location"] == "/casts/1/"
    assert '<h2 id="open-task">Weigh the tree</h2>' in text_of(bench.get("/casts/1/"))
    send(bench, "tree", **rows("tree", {"what": f"lot-{green.pk}", "quantity": "4.8"}))
    assert '<h2 id="open-task">Invest the flask</h2>' in text_of(bench.get("/casts/1/"))
    send(bench, "powder", **rows("powder", {"lot": f"lot-{mould.pk}", "mass": "560"}))
    page = text_of(bench.get("/casts/1/"))
    assert '<h2 id="open-task">Burn out the flask</h2>' in page and "Fumes and a hot kiln" in page
    send(bench, "firing", firing="new", kiln=w.kiln().pk, firing_minutes="12:30")
    page = text_of(bench.get("/casts/1/"))
    assert '<h2 id="open-task">Weigh the charge</h2>' in page
    assert "51.80 g" in page, "the tree asks for 4.8 g x 10.36 / 0.96 of sterling"
    send(bench, "charge", **rows("charge", {"what": f"lot-{lot.pk}", "mass": "60"}))
    page = text_of(bench.get("/casts/1/"))
    assert '<h2 id="open-task">Pour</h2>' in page and "Molten metal" in page
    send(bench, "pour", metal_c="970", flask_c="600", vacuum="27", pour_note="")
    assert "Weigh what came out" in text_of(bench.get("/casts/1/"))
    pieces = rows("pieces", {"name": "Stud", "count": "2", "mass": "30", "patterns": ""})
    send(bench, "weights", back="29.7", **pieces)
    cast = Cast.objects.get()
    assert cast.is_closed and cast.water_mg == w.g(224) and cast.firing.minutes == 750
    assert cast.day == date(2026, 3, 5), "its day is that of the charge"
    page = text_of(bench.get("/casts/1/"))
    assert "lost 0.30 g (0.5 %)" in page and "What went in" in page
    # What is seldom read is folded: a phone would turn many screens for it.
    folded = re.findall(r'<details class="opens">\s*<summary[^>]*>([^<]+)<', page)
    assert folded[0] == "Tree, Mould, Firing, Charge, Pour" and folded[-1] == "Its lines in the book"
    assert problems() == []


def test_a_vacuum_is_told_against_what_the_height_of_the_studio_allows(bench, cast):
    DayPractice.objects.create(pk=1, altitude_m=500)
    post_charge(cast, [w.Portion(silver(), w.g(50))], w.DAY)
    send(bench, "pour", metal_c="", flask_c="", vacuum="93 kPa", pour_note="")
    page = text_of(bench.get("/casts/1/"))
    # 27.5 inHg are 93.1 kPa, of 95.461 by the ICAO standard atmosphere at 500 m: 98 %, computed.
    assert "vacuum 27.5 inHg, 98 % of what 500 m allow" in page
    assert "ICAO standard atmosphere" in page


def test_what_was_read_at_the_pour_is_kept_and_stands_on_the_page(bench, cast):
    post_charge(cast, [w.Portion(silver(), w.g(50))], w.DAY)
    send(bench, "pour", metal_c="970", flask_c="600", vacuum="27", pour_note="quick and quiet")
    cast.refresh_from_db()
    assert cast.poured
    assert (cast.metal_c, cast.flask_c, cast.vacuum_inhg_tenths) == (970, 600, 270)
    assert cast.pour_note == "quick and quiet"
    page = text_of(bench.get("/casts/1/"))
    for told in ("metal at 970 °C", "flask at 600 °C", "vacuum 27.0 inHg", "quick and quiet"):
        assert f"<li>{told}</li>" in page


def test_a_step_may_be_opened_out_of_order(bench, cast):
    page = text_of(bench.get("/casts/1/charge/"))
    assert "Weigh the charge</h2>" in page
    send(bench, "charge", **rows("charge", {"what": f"lot-{silver().pk}", "mass": "60"}))
    page = text_of(bench.get("/casts/1/"))
    assert 'id="open-task">Pour<' in page
    assert "/casts/1/tree/" in page, "what was passed over can still be written down"


def test_the_only_kiln_is_chosen_for_a_new_firing(bench, cast):
    kiln = w.kiln()
    assert f'<option value="{kiln.pk}" selected>' in text_of(bench.get("/casts/1/firing/"))


def test_more_may_be_weighed_into_the_crucible(bench, cast):
    lot = silver()
    for grams in ("50", "5"):
        send(bench, "charge", **rows("charge", {"what": f"lot-{lot.pk}", "mass": grams}))
    assert "55.00 g together" in text_of(bench.get("/casts/1/"))


def test_the_balance_of_a_cast_counts_what_is_in_its_crucible(bench, cast):
    post_charge(cast, [w.Portion(silver(), w.g(50))], w.DAY)
    data = {"back": "29.6", **rows("pieces", {"name": "", "count": "1", "mass": "20"})}
    page = text_of(bench.post("/casts/balance/?cast=1", data))
    assert "Charge 50.00 g; out 49.60 g; 0.40 g (0.8 %) not accounted for." in page


def test_a_second_bowl_of_powder_adds_its_water(bench, cast):
    mould = w.buy(w.powder(), w.g(5000), 30)
    for grams in ("500", "100"):
        send(bench, "powder", **rows("powder", {"lot": f"lot-{mould.pk}", "mass": grams}))
    cast.refresh_from_db()
    assert cast.water_mg == w.g(240)


def test_resin_is_measured_by_volume(bench, cast):
    resin = Material.objects.create(name="Castable resin", kind="pattern", unit="volume")
    lot = w.buy(resin, 500_000, 60)
    send(bench, "tree", **rows("tree", {"what": f"lot-{lot.pk}", "quantity": "12"}))
    assert cast.tree_parts.get().quantity == 12_000
    assert "12 ml Castable resin" in text_of(bench.get("/casts/1/"))


def test_a_tree_that_was_weighed_on_its_base_is_written_down_without_it(bench, cast):
    # 36.20 g on the base, which weighs 31.40 g alone: 4.80 g of wax.
    wax = {"what": f"material-{w.wax().pk}"}
    answer = send(bench, "tree", **rows("tree", wax | {"quantity": "36.2"}), base="40")
    assert "The base weighs as much as the tree on it." in text_of(answer)
    answer = send(
        bench, "tree", **rows("tree", wax | {"quantity": "36"}, wax | {"quantity": "2"}), base="31.4"
    )
    assert "write the tree as one part" in text_of(answer)
    send(bench, "tree", **rows("tree", wax | {"quantity": "36.2"}), base="31.4")
    assert cast.tree_parts.get().quantity == 4_800


def test_a_tree_of_no_known_lot_can_be_taken_out_again(bench, cast):
    send(bench, "tree", **rows("tree", {"what": f"material-{w.wax().pk}", "quantity": "4"}))
    part = cast.tree_parts.get()
    bench.post(f"/casts/1/tree/{part.pk}/take-out/")
    part.refresh_from_db()
    assert part.void
    assert 'id="open-task">Weigh the tree<' in text_of(bench.get("/casts/1/"))


def test_a_tree_from_a_lot_is_reversed_in_the_ledger_instead(bench, cast):
    green = w.buy(w.wax(), w.g(100), 8)
    send(bench, "tree", **rows("tree", {"what": f"lot-{green.pk}", "quantity": "4"}))
    part = cast.tree_parts.get()
    page = text_of(bench.post(f"/casts/1/tree/{part.pk}/take-out/", follow=True))
    assert "take its line in the book back" in page
    part.refresh_from_db()
    assert not part.void


@pytest.mark.parametrize(
    ("step", "data", "sentence"),
    [
        ("tree", rows("tree", {"what": "", "quantity": ""}), "Write what the tree is made of"),
        ("powder", rows("powder", {"lot": "", "mass": ""}), "Write which powder was mixed"),
        ("firing", {"firing": ""}, "Choose the firing, or describe a new one."),
        ("firing", {"firing": "new", "meter_before": "5"}, "Write both readings of the meter, or neither."),
        ("firing", {"firing": "new", "meter_before": "5", "meter_after": "4"}, "does not run backwards"),
        ("charge", rows("charge", {"what": "", "mass": "5"}), "Choose one."),
        ("pour", {"metal_c": "hot"}, "a temperature such as 750 C"),
        ("weights", rows("pieces", {"name": "Leaf", "count": "1", "mass": "2"}), "record the charge first"),
        ("found", {"mass": "1", "origin": "sweeps"}, "This cast is not closed yet"),
        ("time", {"minutes": ""}, "a length of time such as 7:30"),
        ("use", {"lot": "", "quantity": ""}, "Choose one."),
        ("mend", {"title": ""}, "Write what is cast."),
    ],
)
def test_a_refused_step_says_how_to_mend_it_and_changes_nothing(bench, cast, step, data, sentence):
    silver()
    w.buy(w.powder(), w.g(100), 1)
    w.buy(w.wax(), w.g(100), 8)
    Material.objects.create(name="Sawblades", kind="consumable", unit="items")
    w.buy(Material.objects.get(name="Sawblades"), 12, 4)
    w.kiln()
    before = Entry.objects.count()
    response = send(bench, step, **data)
    assert response.status_code == 422
    assert sentence in text_of(response)
    assert Entry.objects.count() == before
    cast.refresh_from_db()
    assert (cast.firing, cast.poured, cast.title) == (None, False, "fern studs")


def test_a_step_sent_twice_is_posted_once(bench, cast):
    data = {
        **once(),
        "day": DAY,
        **rows("charge", {"what": f"lot-{silver().pk}", "mass": "60"}),
    }
    for _ in range(2):
        assert bench.post("/casts/1/charge/", data).status_code == 302
    assert Entry.objects.filter(kind="charge").count() == 1


def test_another_portion_keeps_what_was_typed(bench, cast):
    data = rows("charge", {"what": f"lot-{silver().pk}", "mass": "3 oz"})
    response = send(bench, "charge", add_line="charge", **data)
    assert response.status_code == 200
    assert 'value="3 oz"' in text_of(response) and 'name="charge-1-mass"' in text_of(response)


def test_another_portion_in_place_comes_alone(bench, cast):
    data = rows("charge", {"what": f"lot-{silver().pk}", "mass": "3 oz"})
    html = text_of(send(bench, "charge", add_line="charge", in_place="1", **data))
    assert html.count("<fieldset") == 1 and 'name="charge-1-mass"' in html and "<html" not in html
    assert not Entry.objects.filter(kind="charge").exists()


def test_only_the_owners_metal_is_offered(bench):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    ours = silver()
    post_start(CastFacts("a ring", w.DAY, w.sterling(), owner=w.customer()))
    page = text_of(bench.get("/casts/1/charge/"))
    assert f'value="lot-{theirs.pk}"' in page and f'value="lot-{ours.pk}"' not in page


def test_flux_and_graphite_are_warned_of_where_the_crucible_is_graphite(bench):
    for material, warned in (("graphite", True), ("ceramic", False)):
        crucible = Equipment.objects.create(kind="crucible", name=material, crucible_material=material)
        cast = post_start(CastFacts("leaves", w.DAY, w.sterling(), crucible=crucible))
        page = text_of(bench.get(f"/casts/{cast.number}/pour/"))
        assert ("Never put flux in a graphite crucible" in page) is warned


def test_powder_is_warned_of_where_it_is_mixed(bench, cast):
    assert "Silica dust" in text_of(bench.get("/casts/1/powder/"))
    assert "Silica dust" not in text_of(bench.get("/casts/1/"))


def test_a_closed_cast_takes_no_more_metal(bench):
    closed()
    for step in ("charge", "pour", "weights"):
        assert "is closed" in text_of(bench.get(f"/casts/1/{step}/", follow=True))
        assert send(bench, step).status_code == 302
    assert Entry.objects.filter(kind="charge").count() == 1


def test_powder_that_was_forgotten_can_be_added_after_the_weights(bench):
    cast = closed()
    mould = w.buy(w.powder(), w.g(5000), 30)
    send(bench, "powder", **rows("powder", {"lot": f"lot-{mould.pk}", "mass": "560"}))
    assert cast.entries.filter(kind="powder").exists()


def test_metal_found_later_is_told_beside_the_loss_as_first_written(bench):
    closed()
    send(bench, "found", mass="0.4", origin="sweeps", note="under the bench")
    page = text_of(bench.get("/casts/1/"))
    assert "lost 0.60 g (0.6 %)" in page
    assert "lost 1.00 g (1 %)" in page and "0.40 g was found since" in page
    assert Lot.objects.get(origin="sweeps").holder.quantity == 400


def test_more_than_was_lost_cannot_be_found(bench):
    closed()
    response = send(bench, "found", mass="5", origin="sweeps")
    assert "more than this cast lost" in text_of(response) and response.status_code == 422


def test_time_is_added_and_taken_out(bench, cast):
    send(bench, "time", minutes="1:20", what="tree")
    assert "1 h 20 min, tree" in text_of(bench.get("/casts/1/"))
    bench.post(f"/casts/1/time/{cast.bench_times.get().pk}/take-out/")
    assert not cast.bench_times.exists()


def test_things_are_taken_from_stock_for_the_cast(bench, cast):
    blades = Material.objects.create(name="Sawblades", kind="consumable", unit="items")
    lot = w.buy(blades, 12, 4)
    send(bench, "use", lot=f"lot-{lot.pk}", quantity="2")
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == 10
    assert "2 items Sawblades" in text_of(bench.get("/casts/1/"))


def test_more_than_is_there_cannot_be_taken(bench, cast):
    blades = Material.objects.create(name="Sawblades", kind="consumable", unit="items")
    lot = w.buy(blades, 12, 4)
    response = send(bench, "use", lot=f"lot-{lot.pk}", quantity="20")
    assert "holds 12 items" in text_of(response)


def test_facts_that_no_stock_hangs_on_are_mended(bench):
    cast = closed()
    flask = Equipment.objects.create(kind="flask", name="Steel 75 x 100", archived=True)
    cast.flask = flask
    cast.save()
    page = text_of(bench.get("/casts/1/mend/"))
    assert f'<option value="{flask.pk}" selected>' in page, (
        "what was put away is still offered where it stands"
    )
    firing = w.fire()
    data = {"title": "ivy studs", "day": "2026-03-03", "flask": flask.pk, "firing": firing.pk}
    send(
        bench, "mend", water="240 g", metal_c="970", vacuum="26,5", note="x", **(data | {"day": "2026-03-03"})
    )
    cast.refresh_from_db()
    assert (cast.title, cast.day, cast.firing, cast.water_mg) == (
        "ivy studs",
        date(2026, 3, 3),
        firing,
        w.g(240),
    )
    assert (cast.metal_c, cast.vacuum_inhg_tenths, cast.flask) == (970, 265, flask)


def test_reversed_weights_open_the_cast_again(bench):
    cast = closed()
    entry = cast.entries.get(kind="close")
    assert f"/ledger/{entry.pk}/reverse/" in text_of(bench.get("/casts/1/"))
    post_reversal(entry)
    page = text_of(bench.get("/casts/1/"))
    assert 'id="open-task">Weigh what came out<' in page
    assert "turned-back" in page


def test_costs_are_asked_for_from_a_closed_cast(bench):
    closed()
    assert 'hx-get="/casts/1/cost/?part=1"' in text_of(bench.get("/casts/1/"))


def test_titles_are_shown_as_text(bench):
    closed(title="<script>alert(1)</script>")
    assert "<script>alert" not in text_of(bench.get("/casts/1/"))
    assert "<script>alert" not in text_of(bench.get("/casts/"))


@pytest.mark.parametrize(
    "path",
    [
        "/casts/9/",
        "/casts/9/tree/",
        "/casts/9/mend/",
        "/casts/999999999999999999/",
        "/casts/x/",
        "/casts/1/dance/",
    ],
)
def test_an_unknown_cast_or_step_is_not_found(bench, path):
    assert bench.get(path).status_code == 404


def test_taking_out_what_is_not_there_is_not_found(bench, cast):
    assert bench.post("/casts/1/time/7/take-out/").status_code == 404
    assert bench.post("/casts/1/tree/7/take-out/").status_code == 404
    assert bench.get("/casts/1/tree/7/take-out/").status_code == 405


STEPS = ("", "charge/", "powder/", "weights/", "mend/", "firing/")


@pytest.mark.counts
def test_the_page_asks_as_often_however_much_is_on_it(bench):
    lot = silver(9000)
    counts = []
    for number, portions in ((1, 1), (2, 12)):
        cast = post_start(CastFacts("leaves", w.DAY, w.sterling()))
        post_charge(cast, [w.Portion(lot, w.g(10))] * portions, w.DAY)
        for _ in range(portions):
            w.buy(w.grain(), w.g(10), 10)
            w.fire()
        counts.append(
            {step: count_queries(lambda page=f"/casts/{number}/{step}": bench.get(page)) for step in STEPS}
        )
    assert counts[0] == counts[1]
    assert max(counts[0].values()) < 30


@pytest.mark.counts
def test_a_closed_cast_asks_as_often_with_forty_pieces_as_with_one(bench):
    lot = silver(9000)
    w.cast_metal([(lot, 50)], [w.piece("Stud", 20)], back="29.9")
    many = w.cast_metal([(lot, 400)], [w.piece("Stud", 320, 40)], back="79.9")
    for piece in many.pieces.all()[:8]:
        post_finish(piece, piece.as_cast_mg - 100, 50, w.DAY)
    counts = []
    for number in (1, 2):
        bench.get(f"/casts/{number}/")
        with CaptureQueriesContext(connection) as queries:
            bench.get(f"/casts/{number}/")
        counts.append(len(queries))
    assert counts[0] == counts[1] < 30


def test_the_pour_of_a_flask_that_nobody_fired_is_cautioned(bench, cast):
    send(bench, "charge", **rows("charge", {"what": f"lot-{silver().pk}", "mass": "60"}))
    assert "No burnout is written down for this flask" in text_of(bench.get("/casts/1/pour/"))
    send(bench, "firing", firing="new", kiln=w.kiln().pk, firing_minutes="12:30")
    assert "No burnout is written down" not in text_of(bench.get("/casts/1/pour/"))


def test_planned_powder_that_went_damp_is_not_chosen(bench):
    lots = plans.stock()
    post_begin(plans.plan())
    chosen = f'<option value="lot-{lots["powder"].pk}" selected>'
    assert chosen in text_of(bench.get("/casts/1/powder/"))
    Lot.objects.filter(pk=lots["powder"].pk).update(damp_on=w.DAY)
    page = text_of(bench.get("/casts/1/powder/"))
    assert chosen not in page and "Damp! Lot" in page


def test_the_planned_firing_is_the_one_that_is_written_down(bench):
    plans.stock()
    w.fire(day=timezone.localdate() - timedelta(days=1), minutes=555)
    cast = post_begin(plans.plan())
    page = text_of(bench.get(f"/casts/{cast.number}/firing/"))
    assert '<option value="new" selected>' in page, "another firing of these days is not that of the plan"
    assert f'<option value="{w.kiln().pk}" selected>' in page
    assert 'value="13 h"' in page, "60 + 120 + 120 + 60 + 180 + 120 + 60 + 60 minutes, by the schedule"
    assert AS_PLANNED in page and BY_TURNS not in page
    KilnTurn.objects.create(
        day=cast.plan.day, place=0, set_c=150, at=cast.plan.day.wish_at - timedelta(hours=12)
    )
    page = text_of(bench.get(f"/casts/{cast.number}/firing/"))
    assert BY_TURNS in page and AS_PLANNED not in page
    send(bench, "firing", cast.number, firing="new", kiln=w.kiln().pk, firing_energy="12.4")
    cast.refresh_from_db()
    assert cast.firing is not None and (cast.firing.minutes, cast.firing.meter_after_wh) == (555, 12_400)


def test_a_second_flask_of_the_day_stands_in_the_firing_of_the_first(bench):
    plans.stock()
    cast = post_begin(plans.plan())
    firing = w.fire()
    day = cast.plan.day
    day.firing = firing
    day.save()
    page = text_of(bench.get(f"/casts/{cast.number}/firing/"))
    assert f'<option value="{firing.pk}" selected>' in page


def test_without_a_plan_the_wax_and_the_metal_are_those_of_the_last_cast(bench):
    lot, green = silver(), w.buy(w.wax(), w.g(100), 8)
    w.cast_metal([(lot, 50)], [w.piece("Leaf", 20)], back="29.9", tree=[w.TreeRecord(w.wax(), w.g(4), green)])
    cast = post_start(CastFacts("fern studs", date(2026, 3, 4), w.sterling()))
    for step, key in (("tree", green.pk), ("charge", lot.pk)):
        page = text_of(bench.get(f"/casts/{cast.number}/{step}/"))
        assert f'<option value="lot-{key}" selected>' in page
    # A second portion is whatever it is.
    send(bench, "charge", cast.number, **rows("charge", {"what": f"lot-{lot.pk}", "mass": "60"}))
    page = text_of(bench.get(f"/casts/{cast.number}/charge/"))
    assert 'hx-trigger="load, input' in page, "what stands in it is added up before anything is typed"
    assert f'<option value="lot-{lot.pk}">' in page
