"""A studio of many years for measuring: casts, pieces and deliveries, all through posting."""

from datetime import date, timedelta
from random import Random

from django.db import transaction

from costing.models import Policy
from inventory.models import Cast, Equipment, Firing, Lot, Piece
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
from inventory.posting.pieces import post_finish, post_sale
from tests import workshop as w

CASTS_A_YEAR = 200


class Decade:
    """Fills an empty database; `today` is the last day of its work."""

    def __init__(self, today: date) -> None:
        self.today = today
        self.rng = Random(7)
        w.make_studio()
        Policy.objects.create(
            from_day=date(2001, 1, 1),
            hourly_rate_micro=w.money(24),
            energy_micro_per_kwh=w.money("0.28"),
            overhead_per_hour_micro=w.money(6),
        )
        self.sterling, self.grain, self.powder, self.wax = w.sterling(), w.grain(), w.powder(), w.wax()
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
        with transaction.atomic():
            casts = years * CASTS_A_YEAR
            step = timedelta(days=365 * years) / casts
            for number in range(casts):
                day = self.today - step * (casts - number)
                if number % 10 == 0:
                    self._deliver(day)
                self._cast(day)

    def _deliver(self, day: date) -> None:
        self.fresh = w.buy(self.grain, w.g(700), 800, day, carriage=9)
        self.mould = w.buy(self.powder, w.g(6_000), 30, day, carriage=12)
        self.green = w.buy(self.wax, w.g(120), 9, day)
        self.tins: list[Lot] = []

    def _cast(self, day: date) -> None:
        groups = [
            PieceGroup(name, 8_000 + 10 * self.rng.randrange(300), 1, [800], self.wax)
            for name in ("Leaf", "Stud", "Pod", "Bud")
        ]
        pieces_mg = sum(group.mass_mg for group in groups)
        charge = [Portion(self.fresh, 62_000)]
        if self.tins:
            charge.append(Portion(self.tins.pop(), 15_000))
        charge_mg = sum(portion.quantity for portion in charge)
        kiln = w.kiln()
        firing = Firing.objects.create(
            kiln=kiln, day=day, minutes=720, meter_before_wh=0, meter_after_wh=11_000
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
        self.tins.append(cast.lots_recovered.select_related("holder", "material__alloy").get())
        self._finish(cast, day)

    def _finish(self, cast: Cast, day: date) -> None:
        for piece in (
            Piece.objects.filter(cast=cast).select_related("holder", "cast__alloy").order_by("number")
        ):
            post_finish(piece, piece.as_cast_mg - 300, 250, day)
            if piece.number != 4:
                post_sale(piece, day)
