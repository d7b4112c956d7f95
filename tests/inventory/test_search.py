"""One search box on every page: everything of every sort that has all the words."""

import html
import re

import pytest
from django.contrib.auth.models import User
from django.test import Client

from costing.models import Channel, Outing, Quote
from costing.posting.sales import SaleFacts, Sold, post_sold
from inventory.models import (
    Cast,
    Customer,
    Delivery,
    Design,
    Firing,
    Lot,
    Material,
    Order,
    Piece,
    Refiner,
    Supplier,
)
from inventory.posting.buying import Charges, DeliveryLine, post_delivery
from inventory.posting.pieces import post_sale
from inventory.posting.refining import BatchFacts, post_send
from inventory.posting.reversal import post_reversal
from inventory.queries.search import SHOWN
from inventory.views.search import SORTS
from tests import workshop as w
from tests.inventory import plans
from tests.support import count_queries, plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(client: Client) -> Client:
    w.make_studio()
    client.force_login(User.objects.create_user("Ada"))
    return client


@pytest.fixture
def lot() -> Lot:
    """A lot with a batch, a place and a note, from a delivery with a reference."""
    Supplier.objects.create(name="Brook Powder", contact="ask for Nell")
    delivery = post_delivery(
        Supplier.objects.get(),
        w.DAY,
        [DeliveryLine(w.grain(), w.g(500), w.money(600))],
        Charges(),
        reference="BP-2207",
    )
    bought = Lot.objects.get(delivery=delivery)
    Lot.objects.filter(pk=bought.pk).update(
        supplier_batch="Q17-b", kept_in="red tin", note="a 5_gram scoop, 100% dry"
    )
    return bought


@pytest.fixture
def cast(lot: Lot) -> Cast:
    cast = w.cast_metal([(lot, 60)], [w.piece("Larch cone", 20, 3), w.piece("Bangle", 10)], back=29)
    Cast.objects.filter(pk=cast.pk).update(note="the shell cracked", pour_note="hissed")
    return cast


def find(bench: Client, typed: str) -> dict[str, list[str]]:
    """Titles of what was found, by heading; what was meant alone stands under ""."""
    answer = bench.get("/search/", {"q": typed})
    assert answer.status_code == 200
    page = plain(html.unescape(answer.content.decode()))
    found = {}
    if meant := re.search(r'class="seek-meant"><a href="[^"]+">([^<]+)<', page):
        found[""] = [meant[1]]
    for section in re.findall(r"<section.*?</section>", page, re.DOTALL):
        heading = re.search(r"<h2[^>]*>([^<]+)<", section)
        assert heading
        found[heading[1]] = re.findall(r'<li><a href="[^"]+">([^<]+)</a>', section)
    return found


def test_each_sort_is_found_by_its_words(bench: Client, cast: Cast) -> None:
    for typed, heading in (
        ("fern", "Casts"), ("CRACKED", "Casts"), ("hissed sterling", "Casts"),
        ("larch", "Pieces"), ("cone larch", "Names of pieces"),
        ("q17-B", "Lots"), ("red tin", "Lots"), ("brook scoop", "Lots"), ("Sterling grain", "Lots"),
        ("2207", "Deliveries"), ("brook bp-", "Deliveries"),
        ("nell", "Suppliers"), ("grain", "Materials"),
    ):  # fmt: skip
        found = find(bench, typed)
        assert found.get(heading), (typed, found)


def test_plans_customers_and_firings_are_found_too(bench: Client) -> None:
    plans.plan()
    firing = w.fire()
    Firing.objects.filter(pk=firing.pk).update(note="door seal is worn")
    Customer.objects.create(name="Wren Hallow", contact="spoons", archived=True)
    assert find(bench, "leaves")["Plans"] == ["Fern leaves"]
    # By the name of a pattern on its tree.
    assert find(bench, "Leaf sterling")["Plans"] == ["Fern leaves"]
    assert find(bench, "seal small")["Firings"] == ["Small kiln, 2 Mar 2026"]
    assert find(bench, "SPOONS wren") == {"Customers": ["Wren Hallow"]}


def test_a_piece_is_found_by_what_was_noted_when_it_was_sold(bench: Client, cast: Cast) -> None:
    sold = Piece.objects.order_by("pk").first()
    assert sold is not None
    entry = post_sale(sold, w.DAY, "Gull Street market, to Wren")
    assert find(bench, "gull WREN") == {"Pieces": [sold.name]}
    assert sold.name in plain(bench.get("/pieces/?words=gull").content.decode())
    post_reversal(entry)
    assert find(bench, "gull WREN") == {}


def test_all_words_must_be_there(bench: Client, cast: Cast) -> None:
    assert find(bench, "fern shell")["Casts"] == ["Cast 1, fern studs"]
    assert find(bench, "fern acorn") == {}


def test_a_number_leads_to_that_cast_above_all(bench: Client, cast: Cast) -> None:
    for typed in ("1", "cast 1", "Cast 1", "#1", " CAST   1 "):
        found = find(bench, typed)
        assert found[""] == ["Cast 1, fern studs"], typed
        assert found["Pieces"] == ["Larch cone 1", "Larch cone 2", "Larch cone 3", "Bangle"], typed
        assert any("of cast 1" in title for title in found["Lots"]), typed
        assert "Casts" not in found, typed


def test_a_lot_is_found_by_its_number(bench: Client, cast: Cast, lot: Lot) -> None:
    found = find(bench, f"lot {lot.pk}")
    assert found == {"": [f"Lot {lot.pk}, Sterling grain"]}
    assert find(bench, f"lot {lot.pk} tin")["Lots"] == [f"Lot {lot.pk}, Sterling grain"]


def test_a_number_that_nothing_has_finds_nothing(bench: Client, cast: Cast) -> None:
    for typed in ("cast 999999999", "lot 999999999", "99999999999999999999", "cast 0"):
        assert find(bench, typed) == {}


def test_signs_stand_for_themselves(bench: Client, cast: Cast) -> None:
    assert list(find(bench, "100%")) == ["Lots"]
    assert list(find(bench, "5_gram")) == ["Lots"]
    assert find(bench, "1%d") == find(bench, "r_d tin") == find(bench, "\\") == find(bench, "'") == {}


def test_a_page_is_found_by_its_name(bench: Client) -> None:
    for typed, titles in (
        ("quote", {"Quotes", "A quote, for the customer"}),
        ("refiner", {"Refiners"}),
        ("tins", {"Tins"}),
        ("pure metal", {"Prices of pure metal"}),
        ("price list", {"Price list"}),
        ("floor", {"Pieces under their floor"}),
        ("channels", {"Channels"}),
        ("sales", {"Sales"}),
        ("design", {"Designs"}),
    ):
        pages = find(bench, typed)["Pages"]
        assert titles & set(pages), (typed, pages)
    page = bench.get("/search/", {"q": "quotes"}).content.decode()
    assert '<a href="/pieces/quotes/">Quotes</a>' in page


def test_a_design_leads_to_its_page_and_its_pieces_are_not_told_as_a_name_too(
    bench: Client, cast: Cast
) -> None:
    larch = Design.objects.create(name="Larch cone", collection="Woodland")
    cast.pieces.filter(name__startswith="Larch").update(design=larch)
    found = find(bench, "larch")
    assert found["Designs"] == ["Larch cone"] and "Names of pieces" not in found
    assert f'href="/pieces/designs/{larch.pk}/"' in bench.get("/search/", {"q": "woodland"}).content.decode()
    assert "Larch cone" in bench.get("/pieces/designs/?words=wood").content.decode()


def test_pieces_of_one_name_are_told_once(bench: Client, cast: Cast) -> None:
    assert find(bench, "larch")["Names of pieces"] == ["Larch cone"]
    page = bench.get("/search/", {"q": "larch"}).content.decode()
    assert '<a href="/pieces/?words=Larch+cone">Larch cone</a> <span class="quiet">3 pieces</span>' in page


def test_what_was_taken_back_is_not_found(bench: Client, lot: Lot) -> None:
    post_reversal(Delivery.objects.get().entry)
    assert "Lots" not in find(bench, "brook")


def make_seven() -> None:
    """Seven of each sort, all of them called alike."""
    for nth in range(SHOWN + 2):
        supplier = Supplier.objects.create(name=f"Quern {nth}")
        material = Material.objects.create(name=f"Quern {nth}", kind="consumable", archived=nth == 1)
        post_delivery(supplier, w.DAY, [DeliveryLine(material, w.g(5), w.money(2))], Charges())
        Customer.objects.create(name=f"Quern {nth}")
        order = Order.objects.create(supplier=supplier, placed_on=w.DAY, expected_on=w.DAY)
        order.lines.create(material=material, quantity=w.g(5))
        firing = w.fire()
        Firing.objects.filter(pk=firing.pk).update(note="quern")
        lot = w.buy(w.grain(), w.g(50), 60)
        w.cast_metal([(lot, 10)], [w.piece("Quern", 5)], back=4, title=f"quern {nth}")
        refiner = Refiner.objects.create(name=f"Quern {nth}")
        post_send(BatchFacts(refiner), [w.Portion(lot, w.g(1))], w.DAY)
        plan = plans.plan()
        type(plan).objects.filter(pk=plan.pk).update(title=f"quern {nth}")
        Design.objects.create(name=f"Quern {nth}")
        Quote.objects.create(name=f"Quern {nth}", alloy=w.sterling(), made_on=w.DAY)
        w.tin(name=f"Quern {nth}")
        channel = Channel.objects.create(name=f"Quern {nth}")
        Outing.objects.create(kind="fair", channel=channel, name=f"Quern {nth}", day=w.DAY)
        piece = Piece.objects.latest("pk")
        post_sold(SaleFacts(channel=channel, day=w.DAY, buyer="quern"), [Sold(piece, w.money(9))])


def test_a_long_sort_is_cut_and_leads_to_its_list_with_the_same_words(bench: Client) -> None:
    """It asks the same of a small studio and of a full one."""
    # What came of orders is read for all that are found, and for none where there are none.
    one = w.supplier().orders.create(placed_on=w.DAY, expected_on=w.DAY, reference="quern")
    one.lines.create(material=w.powder(), quantity=w.g(5))
    before = count_queries(lambda: bench.get("/search/", {"q": "quern"}))
    one.lines.all().delete()
    one.delete()
    make_seven()
    assert Piece.objects.count() == SHOWN + 2
    assert count_queries(lambda: bench.get("/search/", {"q": "quern"})) == before <= 24
    answer = bench.get("/search/", {"q": " qUERN "})
    found = find(bench, " qUERN ")
    assert set(found) == {sort.label for sort in SORTS.values()}
    assert {label: len(titles) for label, titles in found.items() if label != "Names of pieces"} == {
        sort.label: SHOWN for name, sort in SORTS.items() if name != "name"
    }
    ways = re.findall(r'<a href="([^"]+)">All ([a-z ]+) with these words</a>', answer.content.decode())
    assert len(ways) == len(SORTS) - 1
    for address, label in ways:
        page = bench.get(html.unescape(address))
        count = page.content.decode().count('<th scope="row"')
        assert count - page.content.decode().count("<tfoot>") == SHOWN + 2, (label, address)


def test_nothing_found_says_so_and_what_is_searched(bench: Client) -> None:
    page = plain(bench.get("/search/", {"q": "<b>acorn"}).content.decode())
    assert "Nothing was found for “&lt;b&gt;acorn”." in page
    assert "This looks through casts (number, words, notes)" in page
    assert 'value="&lt;b&gt;acorn"' in page


def test_without_words_it_says_what_is_searched(bench: Client) -> None:
    for query in ("", "?q=", "?q=+%00"):
        page = bench.get(f"/search/{query}").content.decode()
        assert "This looks through casts" in page and "Nothing was found" not in page


def test_too_much_is_refused_in_a_sentence(bench: Client, cast: Cast) -> None:
    page = bench.get("/search/", {"q": "fern " * 100}).content.decode()
    assert "Write at most 120 letters: a few words are enough." in page
    assert 'aria-invalid="true"' in page and "<section" not in page


def test_every_page_has_the_box_but_none_before_signing_in(bench: Client, client: Client) -> None:
    box = 'role="search" action="/search/" method="get"'
    for address in ("/", "/casts/", "/setup/", "/help/", "/reports/", "/stock/", "/pieces/"):
        page = bench.get(address).content.decode()
        assert page.count(box) == 1, address
        assert '<a class="seek-link" href="/search/">Find</a>' in page
    # Its own page has it once, and large.
    assert bench.get("/search/").content.decode().count(box) == 1
    bench.logout()
    assert box not in bench.get("/", follow=True).content.decode()
    assert bench.get("/search/").status_code == 302


def test_it_is_only_read(bench: Client) -> None:
    assert bench.post("/search/", {"q": "fern"}).status_code == 405
