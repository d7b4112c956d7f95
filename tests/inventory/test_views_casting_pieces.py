"""Pieces from cut-off to sale."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Entry, Lot, Material, Piece
from inventory.posting.stock import post_handed_in
from tests import workshop as w
from tests.inventory.test_views_casting import silver
from tests.support import once, problems, text_of

pytestmark = pytest.mark.django_db
DAY = "2026-03-05"


@pytest.fixture
def leaf(bench) -> Piece:
    return w.cast_metal([(silver(), 100)], [w.piece("Leaf", 20)], back="79.5").pieces.get()


def send(bench, piece: Piece, deed: str, **data: object):
    return bench.post(f"/pieces/{piece.pk}/{deed}/", {**once(), "day": DAY, **data})


def again(piece: Piece) -> Piece:
    return Piece.objects.select_related("holder").get(pk=piece.pk)


def test_a_piece_as_cast_asks_to_be_weighed_finished(bench, leaf):
    assert 'id="open-task">Weigh it finished<' in text_of(bench.get(f"/pieces/{leaf.pk}/"))


def test_finishing_weighs_the_piece_and_its_filings(bench, leaf):
    send(bench, leaf, "finish", finished="18.5", filings="1")
    assert (again(leaf).state, again(leaf).holder.quantity) == ("finished", w.g("18.5"))
    assert Lot.objects.get(origin="filings").holder.quantity == w.g(1)
    page = text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert "18.50 g" in page and "0.50 g" in page
    assert problems() == []


def test_its_metal_opens_to_the_sum(bench, leaf):
    page = text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert "100.0000 × 20.00 g ÷ 100.00 g" in page


def test_heavier_than_it_was_is_refused_and_changes_nothing(bench, leaf):
    response = send(bench, leaf, "finish", finished="20.5")
    assert response.status_code == 422
    assert "Leaf weighed 20.00 g before" in text_of(response) and 'value="20.5"' in text_of(response)
    assert again(leaf).state == "cast"


@pytest.mark.parametrize("typed", ["", "0", "-1", "2 oz", "one"])
def test_a_weight_that_cannot_be_read_is_refused(bench, leaf, typed):
    assert send(bench, leaf, "finish", finished=typed).status_code == 422
    assert again(leaf).state == "cast"


def test_a_piece_is_sold(bench, leaf):
    send(bench, leaf, "gone", note="the gallery")
    assert again(leaf).state == "sold"
    page = text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert "Weighed last" in page and "the gallery" in page
    assert problems() == []


def test_a_piece_of_a_customers_metal_is_handed_over_and_has_no_cost(bench):
    theirs = post_handed_in(w.customer(), w.grain(), w.g(50), w.DAY)
    ring = w.cast_metal([(theirs, 50)], [w.piece("Ring", 20)], back="29.8", owner=w.customer()).pieces.get()
    page = text_of(bench.get(f"/pieces/{ring.pk}/"))
    assert "Handed to its owner" in page and "own and carries no cost" in page
    send(bench, ring, "gone")
    assert again(ring).state == "handed"


def test_a_piece_goes_back_in_the_pot(bench, leaf):
    send(bench, leaf, "melt")
    assert again(leaf).state == "melted"
    assert Lot.objects.filter(origin="clean", holder__quantity=w.g(20)).exists()
    assert problems() == []


@pytest.mark.parametrize("deed", ["gone", "melt"])
def test_what_was_let_go_by_mistake_is_taken_back_from_the_page_that_says_so(bench, leaf, deed):
    page = text_of(bench.post(f"/pieces/{leaf.pk}/{deed}/", {**once(), "day": DAY}, follow=True))
    way = f"/ledger/{Entry.objects.latest('pk').pk}/reverse/"
    assert f'<a href="{way}">Take it back</a>' in page.split('class="messages"')[1].split("</div>")[0]
    assert bench.post(way, once())["Location"] == f"/pieces/{leaf.pk}/"
    assert again(leaf).state == "cast" and problems() == []


def test_what_is_gone_cannot_be_worked_on(bench, leaf):
    send(bench, leaf, "gone")
    for deed in ("finish", "melt", "gone"):
        assert "cannot be done any more" in text_of(bench.get(f"/pieces/{leaf.pk}/{deed}/", follow=True))
        assert send(bench, leaf, deed, finished="18").status_code == 302
    assert Entry.objects.filter(piece=leaf).count() == 1


def test_sold_twice_in_two_windows_is_posted_once(bench, leaf):
    data = {**once(), "day": DAY, "note": ""}
    for _ in range(2):
        bench.post(f"/pieces/{leaf.pk}/gone/", data)
    assert Entry.objects.filter(piece=leaf, kind="sale").count() == 1


def test_time_on_a_piece_is_added_and_taken_out(bench, leaf):
    send(bench, leaf, "time", minutes="45", what="polishing")
    assert "45 min, polishing" in text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert "45 min, polishing" in text_of(bench.get("/casts/1/"))
    time = leaf.bench_times.get()
    response = bench.post(f"/casts/1/time/{time.pk}/take-out/", {"piece": "1"})
    assert response["Location"] == f"/pieces/{leaf.pk}/"
    assert not leaf.bench_times.exists()


def test_findings_are_taken_from_stock_for_a_piece(bench, leaf):
    posts = Material.objects.create(name="Ear posts", kind="finding", unit="items")
    lot = w.buy(posts, 50, 12)
    send(bench, leaf, "use", lot=f"lot-{lot.pk}", quantity="2")
    lot.holder.refresh_from_db()
    assert lot.holder.quantity == 48
    assert "2 items Ear posts" in text_of(bench.get(f"/pieces/{leaf.pk}/"))
    assert Entry.objects.get(kind="use").piece == leaf


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ("", ["Leaf 1", "Leaf 2", "Pod"]),
        ("?state=here", ["Leaf 2", "Pod"]),
        ("?state=sold", ["Leaf 1"]),
        ("?words=pod", ["Pod"]),
        ("?cast=2", ["Leaf 1", "Leaf 2"]),
        ("?cast=x", ["Leaf 1", "Leaf 2", "Pod"]),
        ("?sort=now_mg", ["Leaf 1", "Leaf 2", "Pod"]),
    ],
)
def test_the_list_is_filtered_and_sorted(bench, query, names):
    lot = silver()
    w.cast_metal([(lot, 50)], [w.piece("Pod", 20)], back="29.9")
    leaves = w.cast_metal([(lot, 50)], [w.piece("Leaf", 20, 2)], back="29.9")
    send(bench, leaves.pieces.get(number=1), "gone")
    response = bench.get(f"/pieces/{query}")
    assert [row.record.name for row in response.context["table"].page.object_list] == names


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_list_is_taken_away(bench, leaf, ending):
    assert bench.get(f"/pieces/?export={ending}").status_code == 200


def test_an_empty_list_says_where_pieces_come_from(bench):
    assert "Pieces come from the weights after a pour" in text_of(bench.get("/pieces/"))


@pytest.mark.parametrize(
    "path", ["/pieces/9/", "/pieces/9/finish/", "/pieces/x/", "/pieces/99999999999999999999/"]
)
def test_an_unknown_piece_is_not_found(bench, path):
    assert bench.get(path).status_code == 404


def test_the_page_asks_as_often_after_much_work_as_after_none(bench, leaf):
    counts = []
    for _ in range(2):
        bench.get(f"/pieces/{leaf.pk}/time/")
        with CaptureQueriesContext(connection) as queries:
            bench.get(f"/pieces/{leaf.pk}/time/")
        counts.append(len(queries))
        for minutes in range(1, 9):
            send(bench, leaf, "time", minutes=str(minutes))
        send(bench, leaf, "finish", finished="19", filings="0.5")
        send(bench, leaf, "finish", finished="18.8")
    assert counts[0] == counts[1] < 20
