"""What to order: how much must come, the cheapest order of it, and what it stands beside."""

from datetime import timedelta
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.core.choosing import Ahead, Pack, Terms
from inventory.core.choosing_search import choose_order
from inventory.core.choosing_words import compute_figures, explain_part, explain_total, work_economic_order
from inventory.core.needing import Demand, compute_need
from inventory.models import Material, Offer, Studio, Supplier
from inventory.posting.ordering import Ordered, place_order, write_bands, write_breaks
from inventory.posting.stock import post_use
from inventory.queries.outlook import material_outlook
from inventory.queries.proposal import propose, read_known
from inventory.reports.to_buy import list_beside, list_workings
from tests import workshop as w
from tests.support import text_of, words_of
from tests.workings import find_fault

KG = 1_000_000


def demand(**changes) -> Demand:
    known = {"here": 5 * KG, "coming": 0, "a_day": Fraction(KG, 7), "lead_days": 14, "point": 4 * KG}
    return Demand(material=1, unit="mass", **{**known, **changes})


class TestNeed:
    def test_it_lasts_for_the_time_ahead_and_leaves_the_point_at_which_to_order_again(self):
        """A kilo a week: 3 of 5 are here when it comes, 8 go in 56 days, and 4 must be left."""
        need, working = compute_need(demand(), 56, 70)
        assert (need.still, need.least, need.taken) == (3 * KG, 9 * KG, 5 * KG)
        # Ten weeks that it keeps, less what is here first; never less than what must come.
        assert need.most == 9 * KG
        assert compute_need(demand(), 56, 365)[0].most == round(365 * KG / 7 - 0.5) - 3 * KG
        assert not any(map(find_fault, working.steps))

    def test_the_point_must_be_left_and_what_is_taken_until_it_is_ordered_is_not_here_any_more(self):
        waits = compute_need(demand(wait_days=7), 56, None)[0]
        assert (waits.still, waits.least) == (2 * KG, 10 * KG)

    def test_what_is_ordered_already_counts_and_nothing_must_come_where_enough_is_here(self):
        assert compute_need(demand(coming=20 * KG), 56, None)[0].least == 0

    def test_an_amount_of_ones_own_is_taken_instead(self):
        assert compute_need(demand(own=2 * KG), 56, None)[0].least == 2 * KG
        need, working = compute_need(demand(a_day=Fraction(0), own=7 * KG), 56, 30)
        assert (need.least, need.taken, need.a_day) == (7 * KG, 7 * KG, Fraction(KG, 8))
        assert "not known yet" in working.notes[0]

    def test_nothing_is_known_and_nothing_asked_for(self):
        need = compute_need(demand(a_day=Fraction(0)), 56, None)[0]
        assert (need.least, need.most) == (0, 0)


class TestFigures:
    def test_parts_are_rounded_once_and_add_up_as_they_are_shown(self):
        need = compute_need(demand(), 56, None)[0]
        packs = [
            Pack(1, 1, 1, 25 * KG, ((1, w.money("70.333")),), 60),
            Pack(2, 1, 1, 5 * KG, ((1, w.money("20")),)),
        ]
        choice = choose_order(
            [need], packs, {1: Terms(1, ((0, w.money(9)),), duty_pct100=330)}, Ahead(56, 1_000)
        )
        figures = compute_figures(choice, 10_000)
        assert all(
            getattr(figures, f"{name}_micro") % 10_000 == 0
            for name in ("goods", "duty", "carriage", "holding", "left")
        )
        working = explain_total(figures, "1 May")
        assert working.result and not any(map(find_fault, working.steps))
        for part in choice.parts:
            told = explain_part(part, "Powder", "mass", {}, Ahead(56, 1_000))
            assert not any(map(find_fault, told.steps)), told.steps

    def test_the_textbook_has_a_figure_only_where_it_has_one(self):
        """9,600 a year, 75 an order, 16 a unit and year: 300 (Stevenson). Held at 10 % of a price of 160."""
        need = compute_need(demand(a_day=Fraction(9_600, 365), here=0, point=0), 365, None)[0]
        best, working = work_economic_order(need, "items", 75_000_000, Fraction(160_000_000), 1_000)
        assert (
            best.quantity == 300 and working.result.startswith("300") and best.yearly_micro == w.money(4_800)
        )
        assert work_economic_order(need, "items", 0, Fraction(1), 1_000) is None


def offer(supplier: Supplier, kg: int, price: str, material: Material | None = None, **more) -> Offer:
    return Offer.objects.create(
        supplier=supplier,
        material=material or w.powder(),
        quantity=kg * KG,
        price_micro=w.money(price),
        told_on=w.DAY,
        **more,
    )


@pytest.mark.django_db
class TestPage:
    @pytest.fixture(autouse=True)
    def offers(self, studio):
        """A kilo a week of powder is used, two are here; three packs at two suppliers, with carriage."""
        today = timezone.localdate()
        near, far = w.supplier(), Supplier.objects.create(name="Far Side Powders", lead_time_days=10)
        Material.objects.filter(pk=w.powder().pk).update(supplier=near)
        lot = w.buy(w.powder(), 14 * KG, 40, today - timedelta(days=83))
        for week in range(12):
            post_use(lot, KG, today - timedelta(days=7 * week + 1))
        write_bands(near, [(0, w.money(9)), (w.money(90), 0)])
        write_bands(far, [(0, w.money(15))])
        self.near_small, self.near_large = offer(near, 5, "18"), offer(near, 25, "80", keeps_days=40)
        write_breaks(self.near_small, [(3, w.money("16.50"))])
        self.far_large = offer(far, 20, "62")
        self.today = today

    def propose(self, weeks=8, own=None):
        studio = Studio.objects.get()
        return propose(studio, read_known(studio, self.today), own or {}, weeks, self.today)

    def test_the_order_is_the_cheapest_of_all_and_no_supplier_alone_is_cheaper(self):
        found = self.propose()
        assert found.choice.lines
        assert all(
            one.figures is None or one.figures.total_micro >= found.figures.total_micro
            for one in found.beside
        )
        workings = [*list_workings(found), *list_beside(found, found.wanted[0])]
        assert len(workings) >= 6
        faults = [fault for one in workings for step in one.steps if (fault := find_fault(step))]
        assert faults == []

    def test_landed_cost_is_told_by_what_is_used(self):
        """Of 25 kg that keep 40 days about 5 are used: the small packs cost more to buy and less to use."""
        found = self.propose()
        order = [one.pk for one, _ in found.compare(found.wanted[0])]
        assert order[-1] == self.near_large.pk
        large = next(one for pack, one in found.compare(found.wanted[0]) if pack == self.near_large)
        assert large.stale > large.goods and large.rate == large.goods + large.brought + large.stale

    def test_what_is_on_order_is_not_proposed_again(self):
        assert self.propose().wanted[0].need.least > 0
        place_order(w.supplier(), [Ordered(w.powder(), 40 * KG)], self.today)
        later = self.propose()
        assert later.order_by > self.today + timedelta(weeks=30)
        # In the stock of that day what came by then is counted.
        assert later.wanted[0].need.still < 4 * KG
        offer(w.supplier(), 1, "900", w.grain())
        Material.objects.filter(pk=w.grain().pk).update(guess_a_week=w.g(5))
        assert self.propose().order_by == self.today, "the first of them, when nothing of it is here"
        [powder] = [one for one in self.propose().wanted if one.known.material == w.powder()]
        assert powder.need.still > 30 * KG

    def test_the_page_shows_it_with_ways_to_order_and_takes_an_amount_of_ones_own(self, bench):
        address, pk = reverse("inventory:order-propose"), w.powder().pk
        page = bench.get(address)
        html = text_of(page)
        assert "Why this order" in html and "?pack=" in html and "per kg used" in html
        wanted = bench.get(address, {"weeks": "8", f"own-{pk}": "40 kg"})
        assert sum(line.quantity for line in wanted.context["proposal"].choice.lines) >= 40 * KG
        wrong = bench.get(address, {"weeks": "0", f"own-{pk}": "forty"})
        assert wrong.context["proposal"] is None and "1 or more" in text_of(wrong)
        nothing = bench.get(address, {"weeks": "8"})
        assert "Nothing that somebody offers is due" in text_of(nothing)
        taken = bench.get(address, {"weeks": "8", f"take-{pk}": "on", "file": "csv"})
        assert "From" in taken.content.decode() and taken["Content-Type"].startswith("text/csv")

    def test_home_and_buying_send_where_it_is_cheapest_in_packs_of_it(self, bench):
        """Three small packs at 16.50 cost 66 a parcel; the far one is dearer, and much of the large one goes stale."""
        [one] = [
            one for one in material_outlook(Studio.objects.get(), self.today) if one.material == w.powder()
        ]
        best = self.propose()
        assert (one.offer, one.outlook.amount) == (self.near_small, best.choice.lines[0].quantity)
        assert one.price_micro == sum(line.price_micro for line in best.choice.lines)
        assert "by the time that all of it is used" not in words_of(
            bench.get(reverse("inventory:order-propose"))
        )
        offer(w.supplier(), 100, "250")
        assert "costs least by the time that all of it is used" in words_of(
            bench.get(reverse("inventory:order-propose"))
        )
        self.far_large.price_micro = w.money(20)
        self.far_large.save()
        for address in ("/", "/buying/", f"/buying/materials/{w.powder().pk}/"):
            assert "from Far Side Powders" in words_of(bench.get(address))
        assert "of Far Side Powders" in words_of(bench.get(reverse("inventory:order-propose")))
        self.far_large.supplier.archived = True
        self.far_large.supplier.save()
        assert f"from {w.supplier()}" in words_of(bench.get("/"))
        Offer.objects.filter(supplier=w.supplier()).update(archived=True)
        self.far_large.supplier.archived = False
        self.far_large.supplier.save()
        assert f"from {w.supplier()}" in words_of(bench.get("/")), (
            "nobody knows what the usual supplier asks now"
        )

    def test_what_is_due_first_is_worked_out_and_what_nobody_offers_is_named(self, bench):
        w.buy(w.powder(), 20 * KG, 60, self.today)
        w.buy(w.grain(), w.g(10), 12, self.today)
        Material.objects.filter(pk=w.grain().pk).update(guess_a_week=w.g(5))
        page = words_of(bench.get(reverse("inventory:order-propose")))
        assert "Order by" in page and f"Nobody's offer of {w.grain()} is written down" in page
        assert f"{w.grain()}: nobody's offer is written down. Order" in words_of(
            bench.get("/reports/to-buy/")
        )
        offer(w.supplier(), 1, "900", w.grain())
        assert "Nobody's offer" not in words_of(bench.get(reverse("inventory:order-propose")))

    def test_metal_whose_use_nobody_knows_is_ordered_by_the_amount_that_is_written(self, bench):
        offer(w.supplier(), 1, "900", w.grain())
        with CaptureQueriesContext(connection) as asked:
            page = bench.get(
                reverse("inventory:order-propose"), {"weeks": "8", f"own-{w.grain().pk}": "300 g"}
            )
        assert [line.packs for line in page.context["proposal"].choice.lines] == [1]
        assert len(asked) < 25
