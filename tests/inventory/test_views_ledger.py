"""The ledger's pages: what moved, what a reversal will do, what stands in its way, and the proof."""

import uuid
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.models import Cast, Entry, Holder, Lot
from inventory.posting.buying import post_late_bill
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, post_opening, post_use
from tests import workshop
from tests.support import once, text_of
from tests.workshop import DAY, g

pytestmark = pytest.mark.django_db


def entry_of(kind: str) -> Entry:
    return Entry.objects.get(kind=kind)


def pour(count: int = 1) -> Cast:
    lot = workshop.buy(workshop.grain(), g(100), 90)
    return workshop.cast_metal([(lot, 60)], [workshop.piece("stud", 50, count)], back=9)


def reverse_it(client: Client, entry: Entry, **typed: str) -> object:
    return client.post(f"/ledger/{entry.pk}/reverse/", {**once(), **typed}, follow=True)


class TestList:
    def test_the_newest_stands_first(self, bench):
        workshop.buy(workshop.grain(), g(10), 9, day=DAY)
        workshop.buy(workshop.grain(), g(10), 9, day=DAY - timedelta(days=3))
        rows = text_of(bench.get("/ledger/")).split("<tbody>")[1]
        assert rows.index("2 Mar") < rows.index("27 Feb")

    def test_what_is_reversed_is_struck_through(self, bench):
        lot = workshop.buy(workshop.grain(), g(10), 9)
        reversal = post_reversal(lot.entry)
        page = text_of(bench.get("/ledger/"))
        assert "turned-back" in page
        assert f"by entry {reversal.pk}" in page and f"takes back entry {lot.entry_id}" in page

    @pytest.mark.parametrize(
        ("query", "shown"),
        [
            ("kind=charge", {"charge"}),
            ("cast=1", {"charge", "close"}),
            ("cast=2", set()),
            (f"from_day={DAY + timedelta(days=1)}", set()),
            (f"to_day={DAY}", {"delivery", "charge", "close"}),
            ("standing=only", set()),
            ("standing=without", {"delivery", "charge", "close"}),
        ],
    )
    def test_it_is_filtered(self, bench, query, shown):
        pour()
        response = bench.get(f"/ledger/?{query}")
        assert {row.record.kind for row in response.context["table"].rows} == shown

    @pytest.mark.parametrize(
        "query",
        [
            "cast=x",
            "cast=99999999999999999999",
            "from_day=32/1/2026",
            "kind=odd",
            "sort=about",
            "page=x",
            "export=xlsx",
        ],
    )
    def test_it_answers_whatever_is_asked(self, bench, query):
        pour()
        assert bench.get(f"/ledger/?{query}").status_code == 200

    def test_it_is_taken_away(self, bench):
        pour()
        lines = text_of(bench.get("/ledger/?export=csv")).splitlines()
        assert len(lines) == 4 and "cast 1" in lines[1]

    def test_an_empty_ledger_says_what_to_do(self, bench):
        assert "Nothing is written down yet" in text_of(bench.get("/ledger/"))


class TestEntry:
    def test_its_lines_name_both_ends(self, bench):
        pour()
        page = text_of(bench.get(f"/ledger/{entry_of('close').pk}/"))
        assert "the crucible of cast 1" in page and "stud" in page and "button and sprues of cast 1" in page
        assert "50.00 g" in page and "46.250 g" in page and "GBP" in page

    def test_a_delivery_and_a_late_bill_for_it_lead_to_its_page(self, bench):
        lot = workshop.buy(workshop.wax(), g(100), 9)
        post_use(lot, g(100), DAY)
        bill = post_late_bill(lot.delivery, workshop.money(6), DAY)
        for entry in (lot.entry, bill, post_reversal(bill)):
            page = text_of(bench.get(f"/ledger/{entry.pk}/"))
            assert f'<a href="/buying/deliveries/{lot.delivery_id}/">' in page and "Marsh Gate Metals" in page
        assert f"late bill, delivery {lot.delivery_id}" in text_of(bench.get("/ledger/"))

    def test_each_quantity_has_the_unit_of_its_material(self, bench):
        resin = workshop.wax()
        resin.unit = "volume"
        resin.save()
        lot = post_opening(OpeningLot(resin, 250_000, 0), DAY)
        assert "250 ml" in text_of(bench.get(f"/ledger/{lot.entry_id}/"))

    def test_it_says_who_wrote_it_and_why(self, bench):
        lot = workshop.buy(workshop.powder(), g(1000), 9)
        entry = post_use(lot, g(5), DAY, note="spilt <b>", by=User.objects.get())
        page = text_of(bench.get(f"/ledger/{entry.pk}/"))
        assert "by Ada" in page and "spilt &lt;b&gt;" in page

    def test_a_reversed_one_leads_to_its_reversal_and_back(self, bench):
        lot = workshop.buy(workshop.grain(), g(10), 9)
        reversal = post_reversal(lot.entry)
        first = text_of(bench.get(f"/ledger/{lot.entry_id}/"))
        assert f'href="/ledger/{reversal.pk}/"' in first and "reverse it" not in first
        assert f'href="/ledger/{lot.entry_id}/"' in text_of(bench.get(f"/ledger/{reversal.pk}/"))

    @pytest.mark.parametrize("address", ["/ledger/{}/", "/ledger/{}/reverse/"])
    def test_what_is_not_there_is_not_an_error(self, bench, address):
        for pk in ("0", "999", "9" * 30):
            assert bench.get(address.format(pk)).status_code == 404


class TestReversal:
    def test_it_asks_first_and_says_what_will_happen(self, bench):
        pour()
        page = text_of(bench.get(f"/ledger/{entry_of('close').pk}/reverse/"))
        assert "1 lot and 1 piece that it made are struck out" in page
        assert "The cast is open again" in page
        assert not Entry.objects.filter(kind="reversal").exists()

    def test_it_turns_the_lines_round(self, bench):
        pour()
        page = text_of(bench.get(f"/ledger/{entry_of('charge').pk}/reverse/"))
        assert "Something stands on it" in page  # the close stands on it
        reverse_it(bench, entry_of("close"))
        rows = text_of(bench.get(f"/ledger/{entry_of('charge').pk}/reverse/")).split("<tbody>")[1]
        assert rows.index("the crucible of cast 1") < rows.index(", Sterling grain")

    def test_it_is_posted_once_for_a_key(self, bench):
        lot = workshop.buy(workshop.grain(), g(10), 9)
        key = str(uuid.uuid4())
        first = reverse_it(bench, lot.entry, once=key, note="wrong day")
        again = reverse_it(bench, lot.entry, once=key, note="wrong day")
        reversal = Entry.objects.get(kind="reversal")
        assert reversal.note == "wrong day" and reversal.recorded_by == User.objects.get()
        for page in (first, again):
            assert page.request["PATH_INFO"] == f"/buying/deliveries/{lot.delivery_id}/"
        assert Lot.objects.get().void

    def test_what_stands_in_the_way_is_linked_newest_first(self, bench):
        pour()
        page = text_of(reverse_it(bench, entry_of("delivery")))
        charge, close = entry_of("charge"), entry_of("close")
        assert f'href="/ledger/{charge.pk}/reverse/"' in page
        assert not Entry.objects.filter(kind="reversal").exists()
        page = text_of(reverse_it(bench, charge))
        assert f'href="/ledger/{close.pk}/reverse/"' in page

    def test_many_in_the_way_are_not_all_listed(self, bench):
        lot = workshop.buy(workshop.powder(), g(1000), 9)
        for _ in range(28):
            post_use(lot, g(5), DAY)
        page = text_of(bench.get(f"/ledger/{lot.entry_id}/reverse/"))
        assert page.count('<li><a href="/ledger/') == 25 and "And 3 more." in page

    def test_a_reversal_stands(self, bench):
        lot = workshop.buy(workshop.grain(), g(10), 9)
        reversal = post_reversal(lot.entry)
        assert "and that stands" in text_of(reverse_it(bench, reversal))
        assert "It was taken back already" in text_of(reverse_it(bench, lot.entry))
        assert Entry.objects.count() == 2

    def test_a_page_without_its_key_posts_nothing(self, bench):
        lot = workshop.buy(workshop.grain(), g(10), 9)
        for key in ("", "not a key"):
            page = text_of(reverse_it(bench, lot.entry, once=key, note="kept"))
            assert "open too long" in page and 'value="kept"' in page
        assert Entry.objects.count() == 1


class TestAudit:
    def test_looking_runs_nothing(self, bench, django_assert_num_queries):
        pour()
        with django_assert_num_queries(3):  # the session, the person, the studio
            page = text_of(bench.get("/ledger/audit/"))
        assert "Add it up" in page and "Everything adds up" not in page

    def test_a_sound_ledger_is_found_right(self, bench):
        pour()
        page = text_of(bench.post("/ledger/audit/"))
        assert "Everything adds up." in page and "Wrong:" not in page

    def test_what_is_wrong_is_named(self, bench):
        pour()
        lot = Lot.objects.order_by("pk").first()
        Holder.objects.filter(pk=lot.holder_id).update(cost_micro=1)
        page = text_of(bench.post("/ledger/audit/"))
        assert "2 things wrong" in page and f"Lot {lot.pk}" in page


def test_the_pages_ask_no_more_when_there_is_more(bench):
    def count(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert bench.get(address).status_code == 200
        return len(seen)

    few_cast = pour(count=1)
    addresses = ["/ledger/", f"/ledger/{entry_of('close').pk}/", f"/ledger/{entry_of('close').pk}/reverse/"]
    few = [count(address) for address in addresses]
    many_cast = pour(count=20)
    for _ in range(12):
        pour()
    close = Entry.objects.get(kind="close", cast=many_cast)
    addresses[1:] = [f"/ledger/{close.pk}/", f"/ledger/{close.pk}/reverse/"]
    assert [count(address) for address in addresses] == few
    assert few_cast.pk != many_cast.pk


def test_a_long_entry_is_paged(bench):
    pour(count=40)
    page = text_of(bench.get(f"/ledger/{entry_of('close').pk}/"))
    assert "1 to 25 of 42" in page
    assert "26 to 42 of 42" in text_of(bench.get(f"/ledger/{entry_of('close').pk}/?page=2"))
