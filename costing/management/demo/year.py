"""A year at the demo studio: some forty casts, what was bought for them, and what went wrong.

Every figure comes from the same seed, so the year is the same each time; its days count back from today.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from random import Random

from django.contrib.auth.models import User

from costing.management.demo.care import look_after_things
from costing.management.demo.counting import count_shelves
from costing.management.demo.designs import make_designs
from costing.management.demo.gauge import read_gauge
from costing.management.demo.jar import melt_the_jar
from costing.management.demo.kiln_days import plan_two_for_one_evening
from costing.management.demo.orders import offer_and_order
from costing.management.demo.plans import BRONZE_TREES, FERN, SILVER_TREES, CastingDays, Design, plural
from costing.management.demo.prices import set_prices
from costing.management.demo.refiner import refine
from costing.management.demo.sales import sell_the_year
from costing.management.demo.setting import (
    Setting,
    first_lot,
    furnish,
    grams_held,
    money,
    silver_pence,
    take_oldest,
)
from costing.management.demo.tins import fill_tins
from inventory.core.picking import compute_use_by_once_opened
from inventory.models import Alloy, BenchTime, Cast, Entry, Firing, Lot, Material, Piece
from inventory.posting import casting
from inventory.posting.buying import Charges, DeliveryLine, post_delivery, post_late_bill
from inventory.posting.closing import PieceGroup, Weights
from inventory.posting.pieces import post_finish_together, post_melt_back, post_sale
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import OpeningLot, Told, post_count, post_handed_in, post_opening, post_use

Tree = tuple[tuple[Design, int], ...]
CASTS = 40
FAILED, SPILLED, HEAVY_LOSS, REVERSED, CUSTOMERS = 11, 17, 26, 8, 22
POUR_TROUBLES = {
    4: "a draught from the door: poured in two breaths",
    FAILED: "the flask cracked as the metal went in",
    SPILLED: "the crucible tipped on its rim",
    29: "the torch went out once: a minute lost",
}
SALES = ("spring market", "the gallery", "by post", "open day")
POWDER_MG = {"flask": 560_000, "tall_flask": 720_000}


class Year:
    """The demo's year under way."""

    def __init__(self, today: date, person: User) -> None:
        self.today = today
        self.rng = Random(1877)  # noqa: S311 — the demo must be the same each time, not secret
        self.things: Setting = furnish(today, person)
        self.days = CastingDays(self.things)
        self.firing: Firing | None = None
        self.meter_wh = 412_300

    def day(self, days_ago: int) -> date:
        return self.today - timedelta(days=days_ago)

    def work(self, say: Callable[[str], None]) -> None:
        self._open_the_books()
        for place in range(CASTS):
            days_ago = 356 - place * 9
            self._restock(self.day(days_ago + 2))
            self._cast(place, self.day(days_ago))
            self._finish_and_sell(self.day(days_ago), days_ago)
            if place % 10 == 9:
                say(f"{place + 1} casts")
        self._odds_and_ends()
        self._leave_one_under_way()
        self.days.plan_ahead(self.today)
        refine(self.today)
        count_shelves(self.today)
        fill_tins(self.things.sterling, self.things.bronze, self.today)
        set_prices(self.today, self.things.sterling)
        make_designs(self.things, self.today)
        sell_the_year(self.today)
        melt_the_jar(self.things, self.today)
        look_after_things(self.things, self.today)
        offer_and_order(self.things, self.today)
        plan_two_for_one_evening(self.days, self.today)

    def _open_the_books(self) -> None:
        things, day = self.things, self.day(360)
        for material, grams, pence in ((things.grain, 140, 13_300), (things.bronze_grain, 900, 1_800)):
            opening = OpeningLot(material, grams * 1000, money(pence), cost_is_estimate=False)
            post_opening(opening, day, "the last bills of the old notebook")
        self._deliver_moulds(day, batch="K-0417", price=3_450)
        wires = [DeliveryLine(things.wires, 60, money(2_760))]
        post_delivery(things.metals, day, wires, Charges(carriage_micro=money(395)), "AY-1")

    def _deliver_moulds(self, day: date, batch: str, price: int) -> None:
        things = self.things
        lines = [
            DeliveryLine(
                things.powder, 10_000_000, money(price), batch, day + timedelta(days=365), "under the bench"
            ),
            DeliveryLine(things.wax, 250_000, money(1_190), "", None, "wax drawer"),
        ]
        post_delivery(things.moulds, day, lines, Charges(carriage_micro=money(1_150)), f"Q-{day:%m%d}")

    def _restock(self, day: date) -> None:
        """Buy when the shelf is low, at the price of the day."""
        things = self.things
        if grams_held(things.grain) < 150_000:
            price = silver_pence(self.today, day) * 300
            lines = [DeliveryLine(things.grain, 300_000, money(price), f"S{day:%y%m}", kept_in="safe")]
            post_delivery(things.metals, day, lines, Charges(carriage_micro=money(895)), f"M-{day:%m%d}")
        if grams_held(things.bronze_grain) < 250_000:
            lines = [DeliveryLine(things.bronze_grain, 1_000_000, money(2_090), f"B{day:%y%m}")]
            post_delivery(things.metals, day, lines, Charges(carriage_micro=money(640)), f"M-{day:%m%d}b")
        if grams_held(things.powder) < 1_900_000:
            price = 3_450 + 15 * ((day - self.day(364)).days // 30)
            self._deliver_moulds(day, f"K-{day:%m%d}", price)

    def _cast(self, place: int, day: date) -> None:
        if place == CUSTOMERS:
            self._cast_customers_metal(day)
            return
        is_bronze = place % 5 == 3
        trees = BRONZE_TREES if is_bronze else SILVER_TREES
        tree = trees[place // (5 if is_bronze else 1) % len(trees)]
        if place == REVERSED:
            self._cast_with_a_slip(tree, day)
            return
        self.days.cast(place, self._record(place, tree, day, is_bronze), tree)

    def _record(self, place: int, tree: Tree, day: date, is_bronze: bool) -> casting.CastRecord:
        things = self.things
        flask = "tall_flask" if place % 7 == 5 else "flask"
        groups = [self._group(design, count) for design, count in tree]
        charge_mg = self._charge_mg(groups)
        grain = things.bronze_grain if is_bronze else things.grain
        return casting.CastRecord(
            facts=replace(
                self._facts(" and ".join(plural(design, count) for design, count in tree), day, is_bronze),
                flask=getattr(things, flask),
            ),
            charge=self._charge(grain, charge_mg),
            weights=self._weights(place, groups, charge_mg),
            tree=self._tree(groups),
            powder=self._take(things.powder, POWDER_MG[flask]),
            water_mg=POWDER_MG[flask] * 2 // 5,
            firing=self._fire(place, day),
            pour=read_gauge(
                place,
                self._pour_notes(
                    things.bronze if is_bronze else things.sterling, POUR_TROUBLES.get(place, "")
                ),
            ),
            bench=[casting.TimeRecord(self.rng.randrange(95, 150, 5), "tree, investing, pour, cutting off")],
            prepared_on=day - timedelta(days=1),
        )

    def _facts(self, title: str, day: date, is_bronze: bool = False) -> casting.CastFacts:
        things = self.things
        return casting.CastFacts(
            title=title,
            day=day,
            alloy=things.bronze if is_bronze else things.sterling,
            flask=things.flask,
            crucible=things.bronze_crucible if is_bronze else things.crucible,
            machine=things.machine,
            pump=things.pump,
        )

    def _group(self, design: Design, count: int) -> PieceGroup:
        wax = [design.wax_mg + 10 * self.rng.randrange(-4, 5) for _ in range(count)]
        mass = sum(design.cast_mg * one // design.wax_mg for one in wax) // 10 * 10
        return PieceGroup(design.name, mass, count, wax, self.things.wax)

    def _charge_mg(self, groups: list[PieceGroup]) -> int:
        return (sum(group.mass_mg for group in groups) * 2 + self.rng.randrange(6_000, 16_000)) // 100 * 100

    def _weights(self, place: int, groups: list[PieceGroup], charge_mg: int) -> Weights:
        lost_mg = charge_mg * self.rng.randrange(35, 80) // 100_000 * 10
        if place == FAILED:
            return Weights(back_mg=charge_mg - 2 * lost_mg, failed=True)
        spill_mg = 9_480 if place == SPILLED else 0
        lost_mg += charge_mg // 500 * 10 if place == HEAVY_LOSS else 0
        back_mg = charge_mg - sum(group.mass_mg for group in groups) - lost_mg - spill_mg
        return Weights(groups, back_mg=back_mg, spill_mg=spill_mg)

    def _tree(self, groups: list[PieceGroup]) -> list[casting.TreeRecord]:
        wax_mg = sum(sum(group.pattern_masses_mg) for group in groups)
        sprues_mg = wax_mg * 4 // 5 // 10 * 10
        return [
            casting.TreeRecord(self.things.wax, part.quantity, part.lot)
            for part in self._take(self.things.wax, wax_mg + sprues_mg)
        ]

    def _charge(self, grain: Material, charge_mg: int) -> list[casting.Portion]:
        """Half from the tin where the tin has it and it has not been melted too often, the rest fresh."""
        tin = Lot.objects.filter(
            material__alloy=grain.alloy, origin=Lot.Origin.CLEAN, melts_milli__lt=3200, owner=None
        )
        back = take_oldest(tin, charge_mg // 2)
        return self._take(grain, charge_mg - sum(portion.quantity for portion in back)) + back

    def _take(self, material: Material, quantity: int) -> list[casting.Portion]:
        return take_oldest(Lot.objects.filter(material=material, owner=None), quantity)

    def _fire(self, place: int, day: date) -> Firing:
        """Every sixth cast shares the firing of the one before it."""
        if place % 6 == 5 and self.firing is not None:
            return self.firing
        used_wh = self.rng.randrange(9_600, 11_900, 100)
        is_read = place % 4 != 2
        self.firing = Firing.objects.create(
            kiln=self.things.kiln,
            day=day,
            minutes=self.rng.randrange(660, 740, 10),
            meter_before_wh=self.meter_wh if is_read else None,
            meter_after_wh=self.meter_wh + used_wh if is_read else None,
        )
        self.meter_wh += used_wh + self.rng.randrange(20_000, 60_000, 100)
        return self.firing

    def _pour_notes(self, alloy: Alloy, trouble: str = "") -> casting.PourNotes:
        """Within what the alloy asks for, the flask near the end of its schedule."""
        heats = alloy.heats
        metal_c = self.rng.randrange(heats.pour_least_c or 0, (heats.pour_most_c or 0) + 1)
        return casting.PourNotes(metal_c, self.rng.randrange(525, 556), self.rng.randrange(258, 285), trouble)

    def _cast_with_a_slip(self, tree: Tree, day: date) -> None:
        """The button was first written down ten grams too light; the weights were reversed and posted again."""
        record = self._record(REVERSED, tree, day, is_bronze=True)
        right = record.weights
        slip = Weights(right.groups, back_mg=right.back_mg - 10_000)
        cast = casting.post_cast(replace(record, weights=slip), self.things.person)
        wrong = Entry.objects.get(cast=cast, kind=Entry.Kind.CLOSE)
        post_reversal(wrong, "button misread: 10 g too light")
        cast.refresh_from_db()
        casting.post_close(cast, right, day, self.things.person)

    def _cast_customers_metal(self, day: date) -> None:
        things = self.things
        spoons = Told("six spoons, melted into a bar", "the pearl handles, back with her")
        theirs = post_handed_in(things.owner, things.grain, 84_600, day - timedelta(days=6), told=spoons)
        groups = [self._group(SILVER_TREES[2][0][0], 3)]
        record = casting.CastRecord(
            facts=replace(self._facts("bud rings of her spoons", day), owner=things.owner),
            charge=[casting.Portion(theirs, 62_000)],
            weights=Weights(groups, back_mg=61_610 - groups[0].mass_mg),
            tree=self._tree(groups),
            powder=self._take(things.powder, POWDER_MG["flask"]),
            water_mg=224_000,
            firing=self._fire(0, day),
            pour=self._pour_notes(things.sterling),
            bench=[casting.TimeRecord(130, "all of it, and the talk")],
            prepared_on=day - timedelta(days=1),
        )
        for piece in casting.post_cast(record, things.person).pieces.all():
            post_sale(piece, day + timedelta(days=5), "collected")

    def _finish_and_sell(self, cast_day: date, days_ago: int) -> None:
        """Pieces are filed and polished within the week; most of them sell later in the year."""
        if days_ago < 12:
            return
        done = cast_day + timedelta(days=4)
        pieces = Piece.objects.filter(
            cast__day=cast_day, state=Piece.State.CAST, void=False, cast__owner=None
        )
        finished = self._finish(list(pieces.select_related("cast").order_by("number")), done)
        minutes = {
            design.name: design.finish_minutes for tree in SILVER_TREES + BRONZE_TREES for design, _ in tree
        }
        for piece in finished:
            name = piece.name.rstrip("0123456789 ")
            BenchTime.objects.create(
                cast=piece.cast, piece=piece, day=done, minutes=minutes[name], what="file, tumble, polish"
            )
            if name == FERN.name and piece.number % 2:
                post_use(first_lot(self.things.wires), 2, done, piece=piece)
            sold = done + timedelta(days=self.rng.randrange(10, 120))
            if sold < self.today and self.rng.randrange(4):
                post_sale(piece, sold, self.rng.choice(SALES))

    def _finish(self, pieces: list[Piece], day: date) -> list[Piece]:
        """The pieces of one cast, weighed one by one; the pan below them is swept and weighed once."""
        finished, swept_mg = [], 0
        for piece in pieces:
            if self.rng.randrange(60) == 0:
                post_melt_back(piece, day, "a pit right through")
                continue
            filings_mg = piece.as_cast_mg * self.rng.randrange(20, 38) // 1000 // 10 * 10
            dust_mg = piece.as_cast_mg * self.rng.randrange(2, 7) // 1000 // 10 * 10
            finished.append((piece, piece.as_cast_mg - filings_mg - dust_mg))
            swept_mg += filings_mg
        if finished:
            post_finish_together(finished, swept_mg, day)
        return [piece for piece, _ in finished]

    def _odds_and_ends(self) -> None:
        """A late duty bill, sweeps found under the bench, a tub opened, a count."""
        spilled = Cast.objects.get(number=SPILLED + 1)
        casting.post_found(spilled, 120, Lot.Origin.SWEEPS, spilled.day + timedelta(days=9), "under the pump")
        delivery = (
            Lot.objects.filter(material=self.things.powder, delivery__isnull=False).latest("pk").delivery
        )
        if delivery is not None:
            late = min(delivery.received_on + timedelta(days=12), self.today)
            latest = Entry.objects.filter(kind=Entry.Kind.POWDER).latest("day").day
            post_late_bill(delivery, money(420), max(late, latest), "carrier's fuel charge")
        for lot in Lot.objects.filter(material=self.things.powder).order_by("received_on"):
            lot.opened_on = min(lot.received_on + timedelta(days=5), self.today)
            lot.use_by = compute_use_by_once_opened(lot.use_by, lot.opened_on, lot.material.opened_life_days)
            lot.save(update_fields=["opened_on", "use_by"])
        tin = Lot.objects.filter(origin=Lot.Origin.CLEAN, holder__quantity__gt=20_000).latest("pk")
        post_count(tin, tin.holder.quantity - 40, self.today - timedelta(days=1), "weighed the tin")

    def _leave_one_under_way(self) -> None:
        things, day = self.things, self.today
        self._restock(day)
        cast = casting.post_start(self._facts("fern studs and two seed pods", day))
        groups = [self._group(design, count) for design, count in SILVER_TREES[0]]
        casting.post_tree(cast, self._tree(groups), day)
        casting.post_powder(cast, self._take(things.powder, POWDER_MG["flask"]), 224_000, day)
        casting.post_charge(cast, self._charge(things.grain, self._charge_mg(groups)), day)
