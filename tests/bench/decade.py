"""A studio of many years for measuring: casts, pieces and deliveries, all through posting."""

from datetime import date, timedelta
from random import Random

from django.db import transaction

from costing.models import Policy
from inventory.models import Cast, Equipment, Firing, Lot, Material, Piece
from inventory.posting.casting import (
    CastFacts,
    CastRecord,
    Portion,
    PourNotes,
    TimeRecord,
    TreeRecord,
    post_cast,
)
from inventory.posting.closing import PieceGroup, Weights
from inventory.posting.pieces import post_finish_together, post_sale
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_use
from tests import workshop as w

CASTS_A_YEAR = 200
#: Finished pieces on the shelf.
WAITING = 50


class Decade:
    """Fills an empty database; `today` is the last day of its work."""

    def __init__(self, today: date) -> None:
        self.today = today
        self.rng = Random(7)
        w.make_studio()
        Policy.objects.create(
            from_day=date(1951, 1, 1),
            hourly_rate_micro=w.money(24),
            energy_micro_per_kwh=w.money("0.28"),
            overhead_per_hour_micro=w.money(6),
        )
        self.sterling, self.grain, self.powder, self.wax = w.sterling(), w.grain(), w.powder(), w.wax()
        self.flux = Material.objects.create(name="Borax", kind="consumable")
        self.posts = Material.objects.create(name="Ear post", kind="finding", unit="items")
        self.tin: list[Lot] = []
        self.jar: list[Lot] = []
        self.shelf: list[Piece] = []
        self.tools = {
            kind: Equipment.objects.create(
                kind=kind,
                name=kind,
                price_micro=w.money(300),
                life_uses=5000,
                diameter_um=75_000 if kind == "flask" else None,
                height_um=100_000 if kind == "flask" else None,
            )
            for kind in ("flask", "crucible", "machine", "pump")
        }

    def work(self, years: int) -> None:
        self.post(years * CASTS_A_YEAR, 365 * years)

    def post(self, casts: int, days: int) -> None:
        with transaction.atomic():
            step = timedelta(days=days) / casts
            for number in range(casts):
                day = self.today - step * (casts - number)
                if number % 10 == 0:
                    self._deliver(day)
                self._cast(day)

    def _deliver(self, day: date) -> None:
        """What ten casts use; what is left of the grain before goes in with the next charge."""
        self.tin += Lot.objects.filter(material=self.grain, holder__quantity__gt=0).select_related("holder")
        self.fresh = w.buy(self.grain, w.g(440), 510, day, carriage=9)
        self.mould = w.buy(self.powder, w.g(5_600), 30, day, carriage=12)
        self.green = w.buy(self.wax, w.g(90), 9, day)
        self.borax = w.buy(self.flux, w.g(20), 4, day)
        self.pins = w.buy(self.posts, 60, 12, day)

    def _cast(self, day: date) -> None:
        groups = [
            PieceGroup(name, 8_000 + 10 * self.rng.randrange(300), 1, [800], self.wax)
            for name in ("Leaf", "Stud", "Pod", "Bud")
        ]
        charge = self._charge()
        charge_mg = sum(portion.quantity for portion in charge)
        pieces_mg = sum(group.mass_mg for group in groups)
        firing = Firing.objects.create(
            kiln=w.kiln(), day=day, minutes=720, meter_before_wh=0, meter_after_wh=11_000
        )
        record = CastRecord(
            facts=CastFacts("fern studs", day, self.sterling, **self.tools),
            charge=charge,
            weights=Weights(groups, back_mg=charge_mg - pieces_mg - 500),
            tree=[TreeRecord(self.wax, 9_000, self.green)],
            powder=[Portion(self.mould, 560_000)],
            water_mg=224_000,
            firing=firing,
            pour=PourNotes(965, 600, 275),
            bench=[TimeRecord(120, "all of it")],
        )
        cast = post_cast(record)
        post_use(self.borax, 2_000, day, cast=cast)
        self.tin += cast.lots_recovered.select_related("holder", "material__alloy")
        self._finish(cast, day)

    def _charge(self) -> list[Portion]:
        """All the reclaim there is, as a studio does that minds its tin, and fresh metal for the rest."""
        back = [Portion(lot, lot.holder.quantity) for lot in self.tin]
        self.tin = []
        fresh_mg = max(77_000 - sum(portion.quantity for portion in back), 30_000)
        return [Portion(self.fresh, fresh_mg), *back]

    def _finish(self, cast: Cast, day: date) -> None:
        pieces = list(
            Piece.objects.filter(cast=cast).select_related("holder", "cast__alloy").order_by("number")
        )
        post_finish_together([(piece, piece.as_cast_mg - 300) for piece in pieces], 1_000, day)
        for piece in pieces[:3]:
            post_use(self.pins, 2, day, cast=cast, piece=piece)
            sale = post_sale(piece, day)
        # The fourth waits a season on the shelf; now and then a sale is written for the wrong piece.
        self.shelf.append(pieces[3])
        if len(self.shelf) > WAITING:
            post_sale(self.shelf.pop(0), day)
        if cast.number % 20 == 0:
            post_reversal(sale)
            post_sale(Piece.objects.select_related("holder", "cast__alloy").get(pk=pieces[2].pk), day)
        self.jar += Lot.objects.filter(from_cast=cast, origin=Lot.Origin.FILINGS).select_related("holder")
        if cast.number % 10 == 0:
            # The jar is emptied: its filings have been through a magnet, and go in with the next charge.
            self.tin += self.jar
            self.jar = []
