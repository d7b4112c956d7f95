"""The page on which a whole cast is written down, the list of casts, and the sums shown while typing."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import BenchTime, Cast, Entry, Equipment, Firing, Lot, Piece
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.support import once, problems, text_of

pytestmark = pytest.mark.django_db


def rows(prefix: str, *lines: dict[str, object]) -> dict[str, object]:
    data: dict[str, object] = {f"{prefix}-TOTAL_FORMS": len(lines), f"{prefix}-INITIAL_FORMS": 0}
    for number, line in enumerate(lines):
        data |= {f"{prefix}-{number}-{name}": text for name, text in line.items()}
    return data


def typed(lot: Lot, **changes: object) -> dict[str, object]:
    """A whole cast as a person types it: 50 g charged, 20 g in two studs, 29.6 g back."""
    data: dict[str, object] = {
        **once(),
        "title": "fern studs",
        "day": "2026-03-05",
        "alloy": w.sterling().pk,
        "firing": "",
        "back": "29.6",
        **rows("tree", {"what": "", "quantity": ""}),
        **rows("powder", {"lot": "", "mass": ""}),
        **rows("charge", {"what": f"lot-{lot.pk}", "mass": "50"}),
        **rows("pieces", {"name": "Fern stud", "count": "2", "mass": "20", "patterns": ""}),
        **rows("time", {"minutes": "", "what": ""}),
    }
    return {name: text for name, text in (data | changes).items() if text is not None}


NO_PIECES = rows("pieces", {"name": "", "count": "1", "mass": "", "patterns": ""})


def silver(grams: int = 200) -> Lot:
    return w.buy(w.grain(), w.g(grams), grams)


def test_a_cast_that_is_done_is_written_down_on_one_page(bench):
    response = bench.post("/casts/record/", typed(silver()))
    cast = Cast.objects.get()
    assert response.status_code == 302 and response["Location"] == f"/casts/{cast.number}/"
    assert cast.is_closed and cast.day == date(2026, 3, 5)
    assert list(cast.pieces.order_by("number").values_list("name", "as_cast_mg")) == [
        ("Fern stud 1", 10_000),
        ("Fern stud 2", 10_000),
    ]
    assert Entry.objects.get(kind="close").recorded_by.username == "Ada"
    assert problems() == []


def test_everything_that_may_be_noted_is_kept(bench):
    lot, mould, green = silver(), w.buy(w.powder(), w.g(5000), 30), w.buy(w.wax(), w.g(100), 8)
    kiln, flask = w.kiln(), Equipment.objects.create(kind="flask", name="Steel 75 x 100")
    crucible = Equipment.objects.create(kind="crucible", name="Graphite 1", crucible_material="graphite")
    bench.post(
        "/casts/record/",
        typed(
            lot,
            flask=flask.pk,
            crucible=crucible.pk,
            firing="new",
            kiln=kiln.pk,
            firing_minutes="12 h 30",
            meter_before="100",
            meter_after="112.4",
            metal_c="970 C",
            vacuum="27.5",
            pour_note="clean",
            spill="0.2",
            filings="0.1",
            closed_on="2026-03-06",
            note="second try",
            **rows("tree", {"what": f"lot-{green.pk}", "quantity": "4,2 g"}),
            **rows("powder", {"lot": f"lot-{mould.pk}", "mass": "560"}),
            **rows("time", {"minutes": "1:20", "task": "cut", "what": "tree"}),
        ),
    )
    cast = Cast.objects.get()
    assert (cast.flask, cast.crucible, cast.water_mg) == (flask, crucible, w.g(224))
    assert (cast.metal_c, cast.vacuum_inhg_tenths, cast.pour_note) == (970, 275, "clean")
    assert (cast.closed_on, cast.note) == (date(2026, 3, 6), "second try")
    firing = cast.firing
    assert firing is not None and (firing.minutes, firing.meter_after_wh) == (750, 112_400)
    assert cast.tree_parts.get().quantity == 4_200
    time = cast.bench_times.get()
    assert (time.minutes, time.task, time.what) == (80, "cut", "tree")
    assert Lot.objects.get(from_cast=cast, origin="spill").holder.quantity == 200
    assert problems() == []


def test_water_that_was_typed_is_kept_as_typed(bench):
    mould = w.buy(w.powder(), w.g(5000), 30)
    bench.post(
        "/casts/record/",
        typed(silver(), water="230 g", **rows("powder", {"lot": f"lot-{mould.pk}", "mass": "560"})),
    )
    assert Cast.objects.get().water_mg == w.g(230)


def test_the_tin_is_taken_oldest_first(bench):
    lot = silver(400)
    first = w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.5").lots_recovered.get()
    second = w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.5").lots_recovered.get()
    key = f"clean-{w.sterling().pk}-0"
    portions = rows("charge", {"what": f"lot-{lot.pk}", "mass": "80"}, {"what": key, "mass": "70"})
    assert key in text_of(bench.get("/casts/record/"))
    bench.post("/casts/record/", typed(lot, back="129.6", **portions))
    first.holder.refresh_from_db()
    second.holder.refresh_from_db()
    assert (first.holder.quantity, second.holder.quantity) == (0, w.g(49))
    assert problems() == []


def test_more_than_the_tin_holds_is_refused_beside_its_weight(bench):
    lot = silver(400)
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.5")
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.5")
    portions = rows("charge", {"what": f"clean-{w.sterling().pk}-0", "mass": "200"})
    response = bench.post("/casts/record/", typed(lot, **portions))
    assert response.status_code == 422
    assert "Only 119.00 g can be taken" in text_of(response)


def test_castings_weighed_together_share_by_the_pattern_weights(bench):
    green = w.buy(w.wax(), w.g(100), 8)
    pieces = rows("pieces", {"name": "Pod", "count": "2", "mass": "20", "patterns": "1 + 3"})
    tree = rows("tree", {"what": f"lot-{green.pk}", "quantity": "4"})
    bench.post("/casts/record/", typed(silver(), **pieces, **tree))
    found = Piece.objects.order_by("number").values_list("as_cast_mg", "pattern_mass_mg", "pattern_material")
    assert list(found) == [(5_000, 1_000, w.wax().pk), (15_000, 3_000, w.wax().pk)]


def test_as_many_pattern_weights_as_castings_are_asked_for(bench):
    pieces = rows("pieces", {"name": "Pod", "count": "3", "mass": "20", "patterns": "1 + 3"})
    response = bench.post("/casts/record/", typed(silver(), **pieces))
    assert "Write 3 pattern weights, one for each" in text_of(response)
    assert not Cast.objects.exists()


def test_a_cast_that_failed_whole_is_written_down_without_pieces(bench):
    pieces = rows("pieces", {"name": "", "count": "1", "mass": "", "patterns": ""})
    bench.post("/casts/record/", typed(silver(), failed="on", back="49.7", **pieces))
    assert Cast.objects.get().outcome == Cast.Outcome.FAILED


def test_a_customers_cast_takes_their_metal(bench):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(80), w.DAY)
    bench.post("/casts/record/", typed(theirs, owner=w.customer().pk))
    assert Cast.objects.get().owner == w.customer()
    assert problems() == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": "", "failed": "on"} | NO_PIECES, "Write what is cast"),
        ({"day": "2199-01-01"}, "has not come yet"),
        ({"alloy": "99999"}, "Choose one that is in the list."),
        ({"back": "3.1 oz"}, "Ounces troy (96.42 g) or ounces avoirdupois (87.88 g)?"),
        ({"back": "-3"}, "cannot be below zero"),
        ({"back": "60"}, "more came out than went in"),
        ({"vacuum": "90"}, "The most this field takes is 30.0 inHg."),
        ({"vacuum": "1,234"}, "Is 1,234 meant as"),
        ({"closed_on": "2026-03-04"}, "come on the day of the cast or after it"),
        ({"failed": "on"}, "A cast that failed whole has no pieces"),
        ({"firing": "new"}, "Choose the kiln of the new firing."),
        ({"once": ""}, "This page has been open too long."),
        (rows("charge", {"what": "", "mass": ""}), "Write at least one portion"),
        (rows("charge", {"what": "lot-424242", "mass": "5"}), "Choose one that is in the list."),
        (rows("pieces", {"name": "", "count": "1", "mass": "", "patterns": ""}), "Write at least one piece"),
        (
            rows("pieces", {"name": "Pod", "count": "1", "mass": "20", "patterns": "1 + x"}),
            "Put a plus between",
        ),
        (rows("pieces", {"name": "Pod", "count": "0", "mass": "20", "patterns": ""}), "Write more than 0."),
    ],
)
def test_a_refused_cast_says_how_to_mend_it_and_changes_nothing(bench, changes, sentence):
    lot = silver()
    response = bench.post("/casts/record/", typed(lot, **changes))
    assert response.status_code == 422
    page = text_of(response)
    assert sentence in page
    assert 'value="29.6"' in page or "back" in changes, "what was typed stays"
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == w.g(200)
    assert not Cast.objects.exists() and not Firing.objects.exists()


def test_a_refusal_by_the_ledger_takes_back_the_new_firing_too(bench):
    changes = {"firing": "new", "kiln": w.kiln().pk, "firing_minutes": "720", "back": "60"}
    response = bench.post("/casts/record/", typed(silver(), **changes))
    assert response.status_code == 422
    assert not Firing.objects.exists()


def test_more_than_a_lot_holds_is_refused_beside_the_portion(bench):
    page = text_of(bench.post("/casts/record/", typed(silver(40), back="29.6")))
    assert "holds 40.00 g; 50.00 g is more than that" in page
    assert 'id="id_charge-0-mass_error"' in page


def test_stale_powder_is_refused_beside_the_powder(bench):
    mould = w.buy(w.powder(), w.g(5000), 30, use_by=w.DAY)
    powder = rows("powder", {"lot": f"lot-{mould.pk}", "mass": "560"})
    page = text_of(bench.post("/casts/record/", typed(silver(), **powder)))
    assert "was to be used by 2 Mar 2026" in page
    assert 'id="id_powder-0-mass_error"' in page


def test_a_firing_that_was_chosen_and_described_is_asked_about(bench):
    firing = w.fire()
    page = text_of(bench.post("/casts/record/", typed(silver(), firing=firing.pk, firing_minutes="700")))
    assert "Choose a new firing, or empty the fields below" in page


def test_a_firing_that_is_described_without_being_chosen_is_taken_as_new(bench):
    bench.post("/casts/record/", typed(silver(), kiln=w.kiln().pk, firing_minutes="700"))
    assert Firing.objects.get().minutes == 700


def test_another_line_keeps_what_was_typed_and_saves_nothing(bench):
    data = typed(silver(), back="3.1 oz", add_line="charge")
    response = bench.post("/casts/record/", data)
    page = text_of(response)
    assert response.status_code == 200
    assert 'name="charge-1-mass"' in page and 'value="3.1 oz"' in page
    assert 'class="errors"' not in page
    assert not Cast.objects.exists()


def test_sent_twice_it_is_posted_once(bench):
    data = typed(silver())
    first, second = bench.post("/casts/record/", data), bench.post("/casts/record/", data)
    assert first["Location"] == second["Location"]
    assert Cast.objects.count() == 1


def test_the_answers_of_the_last_cast_are_the_usual_ones(bench):
    flask = Equipment.objects.create(kind="flask", name="Steel 75 x 100")
    w.cast_metal([(silver(), 50)], [w.piece("Leaf", 20)], back="29.9", flask=flask)
    page = text_of(bench.get("/casts/record/"))
    assert f'<option value="{flask.pk}" selected>' in page
    assert f'<option value="{w.sterling().pk}" selected>' in page


def test_the_powder_that_goes_out_of_date_first_is_filled_in(bench):
    today = timezone.localdate()
    w.buy(w.powder(), w.g(1000), 6, use_by=today + timedelta(days=90))
    soon = w.buy(w.powder(), w.g(1000), 6, use_by=today + timedelta(days=9))
    assert f'<option value="lot-{soon.pk}" selected>' in text_of(bench.get("/casts/record/"))


def test_an_empty_studio_is_told_what_is_missing(bench):
    page = text_of(bench.get("/casts/record/"))
    assert "No metal is in stock." in page and "No powder is in stock." in page


def balance(bench, query="", **data: object) -> str:
    return text_of(bench.post(f"/casts/balance/{query}", data))


def test_the_balance_is_told_while_it_is_typed(bench):
    lot = silver()
    page = balance(
        bench,
        alloy=w.sterling().pk,
        back="92.70",
        filings="0.45",
        **rows("charge", {"what": f"lot-{lot.pk}", "mass": "180"}),
        **rows("pieces", {"name": "", "count": "1", "mass": "85.50"}),
    )
    assert "Charge 180.00 g; out 178.65 g; 1.35 g (0.75 %) not accounted for." in page
    assert "more than the scale can hide" in page
    assert "not weighed yet 1.35 g" in page
    assert "Its fineness" not in page and "Fineness of the charge" in page
    assert not Cast.objects.exists()


def test_more_out_than_in_is_told_before_it_is_refused(bench):
    lot = silver()
    page = balance(
        bench,
        alloy=w.sterling().pk,
        back="31",
        **rows("charge", {"what": f"lot-{lot.pk}", "mass": "50"}),
        **rows("pieces", {"name": "Leaf", "count": "1", "mass": "20"}),
    )
    assert "1.00 g more than went in" in page and "Weigh again" in page


def test_a_charge_short_of_its_mark_is_told_while_it_is_typed(bench):
    lot, poor = silver(), w.buy(w.grain(w.bronze()), w.g(50), 2)
    portions = rows(
        "charge", {"what": f"lot-{lot.pk}", "mass": "50"}, {"what": f"lot-{poor.pk}", "mass": "1"}
    )
    assert "of fine metal too little for 925" in balance(bench, alloy=w.sterling().pk, **portions)


def test_half_typed_lines_are_passed_over(bench):
    lot = silver()
    portions = rows(
        "charge",
        {"what": f"lot-{lot.pk}", "mass": "50"},
        {"what": f"lot-{lot.pk}", "mass": "3 o"},
        {"what": "", "mass": "7"},
    )
    assert "Charge 50.00 g." in balance(bench, alloy=w.sterling().pk, **portions)


@pytest.mark.parametrize("query", ["", "?cast=77", "?cast=x", "?cast=99999999999999"])
def test_nothing_typed_is_no_sum(bench, query):
    assert "No metal is written down yet." in balance(bench, query, alloy="x")


def test_more_than_a_lot_holds_is_told_while_it_is_typed(bench):
    lot = silver(40)
    portions = rows("charge", {"what": f"lot-{lot.pk}", "mass": "50"})
    assert "holds 40.00 g only" in balance(bench, alloy=w.sterling().pk, **portions)


def test_water_follows_the_powder_while_it_is_typed(bench):
    mould = w.buy(w.powder(), w.g(5000), 30)
    page = text_of(bench.post("/casts/water/", rows("powder", {"lot": f"lot-{mould.pk}", "mass": "600"})))
    assert "240.00 g" in page


def test_sums_are_asked_for_by_post_only(bench):
    assert bench.get("/casts/balance/").status_code == 405
    assert bench.get("/casts/water/").status_code == 405


def test_the_list_shows_grams_loss_and_what_is_next(bench):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59)
    bench.post(
        "/casts/start/",
        {**once(), "title": "pods", "day": "2026-03-05", "alloy": w.sterling().pk},
    )
    page = text_of(bench.get("/casts/"))
    assert "1.00 g" in page and "1.00 %" in page and "Weigh the tree" in page
    assert "pieces 40.00 g, back to the tin 59.00 g, filings and spill 0.00 g, lost 1.00 g" in page


def test_an_empty_list_says_what_to_do_first(bench):
    page = text_of(bench.get("/casts/"))
    assert "No cast yet." in page and "/casts/record/" in page


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("?state=open", [3]),
        ("?state=closed", [2, 1]),
        ("?state=failed", [2]),
        ("?since=2026-03-03", [3, 2]),
        ("?until=2026-03-02", [1]),
        ("?words=LEA", [1]),
        ("?owner=null", [3, 2, 1]),
        ("?sort=-loss_share", [2, 1, 3]),
        ("?sort=lost_mg&state=closed", [1, 2]),
        ("?sort=next_step&state=closed", [2, 1]),
        ("?sort=nonsense&page=x", [3, 2, 1]),
    ],
)
def test_the_list_is_filtered_and_sorted(bench, query, numbers):
    lot = silver(400)
    w.cast_metal([(lot, 100)], [w.piece("Leaf", 40)], back="59.5", title="leaves")
    w.cast_metal([(lot, 100)], [], back=98, failed=True, title="pods", day=date(2026, 3, 4))
    bench.post(
        "/casts/start/",
        {**once(), "title": "studs", "day": "2026-03-05", "alloy": w.sterling().pk},
    )
    response = bench.get(f"/casts/{query}")
    assert [row.record.number for row in response.context["table"].page.object_list] == numbers


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_list_is_taken_away(bench, ending):
    w.cast_metal([(silver(), 100)], [w.piece("Leaf", 40)], back=59, title="=leaves")
    response = bench.get(f"/casts/?export={ending}")
    assert response.status_code == 200
    if ending == "csv":
        text = (
            b"".join(response.streaming_content).decode() if response.streaming else response.content.decode()
        )
        assert "1," in text and "100" in text and "\n=leaves" not in text and ",=leaves" not in text


def test_plans_and_firings_are_reached_above_the_list_of_casts(bench):
    above = bench.get("/casts/").content.decode().split('class="table-frame"')[0].split("<main")[1]
    assert 'href="/plans/"' in above and 'href="/firings/"' in above


@pytest.mark.parametrize("path", ["/casts/", "/casts/record/", "/casts/start/", "/pieces/", "/"])
def test_pages_ask_as_often_with_thirty_casts_as_with_three(bench, path):
    lot, mould = silver(9000), w.buy(w.powder(), w.g(50_000), 300)
    counts = []
    for wanted in (3, 30):
        while Cast.objects.count() < wanted:
            w.cast_metal(
                [(lot, 100)],
                [w.piece("Leaf", 40, 2)],
                back=59,
                powder=[w.Portion(mould, w.g(500))],
                firing=w.fire(),
            )
        bench.get(path)
        with CaptureQueriesContext(connection) as queries:
            assert bench.get(path).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1] < 48


def test_pages_are_only_for_who_signed_in(client):
    w.make_studio()
    for path in ("/", "/casts/", "/casts/record/", "/pieces/"):
        assert client.get(path).status_code == 302


def test_time_of_nothing_is_not_written_down(bench):
    bench.post("/casts/record/", typed(silver()))
    assert not BenchTime.objects.exists()
