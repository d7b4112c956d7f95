"""Every page of the studio, found by its address, and a studio with one of each thing that has a page."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory import urls
from inventory.models import (
    Batch,
    BenchTime,
    Cast,
    ChecklistItem,
    Delivery,
    Design,
    Entry,
    Equipment,
    Firing,
    LabelSheet,
    Lot,
    Material,
    Offer,
    Order,
    Picture,
    Piece,
    Plan,
    StockCount,
    WearingPart,
)
from inventory.posting.buying import Charges, DeliveryLine, post_delivery, post_late_bill
from inventory.posting.casting import CastFacts, TreeRecord, post_charge, post_start, post_tree
from inventory.posting.counting import LotFound, Round, post_stock_count
from inventory.posting.designs import claim_pieces, write_parts
from inventory.posting.ordering import Ordered, Receiving, place_order, write_bands, write_breaks
from inventory.posting.pieces import post_finish
from inventory.posting.planning import post_begin
from inventory.posting.reclaim import post_together
from inventory.posting.refining import BatchFacts, MetalBack, SettledPart, post_send, post_settle, write_terms
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import post_count, post_handed_in, post_use
from inventory.posting.wearing import write_replacement
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.kiln_logs import keep as keep_log
from tests.inventory.pictures import keep_picture
from tests.thorough import ON_SECOND

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Shelf:
    """One of each thing that has a page, with much or little on it."""

    closed: Cast
    begun: Cast
    piece: Piece
    lot: Lot
    delivery: Delivery
    firing: Firing
    entry: Entry
    person: User
    plan: Plan
    begun_plan: Plan
    line: ChecklistItem
    count: StockCount
    batch: Batch
    picture: Picture
    sheet: LabelSheet
    part: WearingPart
    design: Design
    offer: Offer
    order: Order

    def keys(self, route: str) -> list[dict[str, Any]]:
        """What stands for the parts of an address, once for each state that its thing can be in."""
        by_start = {
            "pictures/<slug": [{"kind": "piece", "pk": self.piece.pk}, {"kind": "lot", "pk": self.lot.pk}],
            "pictures/": [{"pk": self.picture.pk}],
            "t/": [{"letter": "p", "pk": self.piece.pk}],
            "plans/": [{"pk": self.plan.pk}, {"pk": self.begun_plan.pk}],
            "days/": [{"pk": self.plan.day_id}],
            "casts/": [{"number": self.closed.number}, {"number": self.begun.number}],
            "pieces/designs/": [{"pk": self.design.pk}],
            "pieces/": [{"pk": self.piece.pk}],
            "stock/lots/": [{"pk": self.lot.pk}],
            "stock/counts/": [{"pk": self.count.pk}],
            "stock/tins/": [{"pk": w.tin().pk}],
            "stock/batches/": [{"pk": self.batch.pk}],
            "stock/materials/": [{"pk": self.lot.material_id}],
            "buying/deliveries/": [{"pk": self.delivery.pk}],
            "buying/materials/": [{"pk": self.lot.material_id}],
            "buying/offers/": [{"pk": self.offer.pk}],
            "buying/orders/": [{"pk": self.order.pk}],
            "firings/": [{"pk": self.firing.pk}],
            "kiln-logs/": [{"pk": self.firing.pk}],
            "ledger/": [{"pk": self.entry.pk}],
            "setup/alloys/": [{"pk": self.closed.alloy_id}],
            "setup/suppliers/": [{"pk": self.delivery.supplier_id}],
            "setup/refiners/": [{"pk": w.refiner().pk}],
            "setup/customers/": [{"pk": w.customer().pk}],
            "setup/equipment/": [{"pk": w.kiln().pk}],
            "setup/schedules/": [{"pk": self.plan.day.schedule_id}],
            "setup/checklist/": [{"pk": self.line.pk}],
            "setup/label-sheets/": [{"pk": self.sheet.pk}],
            "setup/wearing/": [{"pk": self.part.pk}],
            "setup/people/": [{"pk": self.person.pk}],
            "setup/<": [{"pk": self.closed.alloy_id}],
        }
        found = [keys for start, keys in by_start.items() if route.startswith(start)]
        assert found, f"say in this test what stands at {route}"
        return found[0]


# Parts of addresses that name no record.
WORDS = {"size": "small", "letter": "p", "name": "count", "kind": "kiln", "what": "alloy", "metal": "silver"}


def addresses(shelf: Shelf) -> Iterator[tuple[str, str]]:
    """(name and state, address) of every page of the studio."""
    for pattern in urls.urlpatterns:
        route, wanted = str(pattern.pattern), pattern.pattern.converters
        records = shelf.keys(route) if {"pk", "number"} & set(wanted) else [{}]
        for state, record in enumerate(records):
            known = {**WORDS, "pk": 1, **record}
            given = {name: known[name] for name in wanted}
            yield f"{pattern.name} {state}", reverse(f"inventory:{pattern.name}", kwargs=given)


def worn_parts(much: int) -> WearingPart:
    """Parts that wear, each replaced as often, and the first of them."""
    parts = [
        WearingPart.objects.create(name=f"Hose {much}.{number}", counted_by="casts", life=40, new_on=w.DAY)
        for number in range(much)
    ]
    for place, part in enumerate(parts * much):
        write_replacement(part, w.DAY + timedelta(days=place // much))
    return parts[0]


def stock(much: int) -> tuple[Delivery, Lot]:
    """A delivery of `much` lots of grain with as many late bills, and the first of its lots."""
    line = DeliveryLine(w.grain(), w.g(2000), w.money(2600))
    delivery = post_delivery(w.supplier(), w.DAY, [line] * much, Charges(carriage_micro=w.money(9)))
    for number in range(much):
        post_late_bill(delivery, w.money(3), w.DAY)
        material = Material.objects.create(name=f"Ear wires {much}.{number}", kind="finding", unit="items")
        post_use(w.buy(material, 50, 20), 5, w.DAY)
        w.buy(w.powder(), w.g(5000), 40)
        post_handed_in(w.customer(), w.grain(), w.g(30), w.DAY)
        Equipment.objects.create(kind="crucible", name=f"Crucible {much}.{number}")
    lot = delivery.lots.order_by("pk")[0]
    for number in range(much):
        post_count(lot, w.g(2000) - number - 1, w.DAY)
    return delivery, lot


def close(lot: Lot, much: int) -> Cast:
    """A closed cast with `much` of everything: portions, pieces that were finished, uses, time at the bench."""
    wax, findings = w.buy(w.wax(), w.g(100), 5), Material.objects.filter(kind="finding").latest("pk")
    cast = w.cast_metal(
        [(lot, 10)] * much,
        [w.piece(f"Stud {number}", 4, 2) for number in range(much)],
        back=5 * much,
        filings_mg=w.g("0.1"),
        tree=[TreeRecord(w.wax(), w.g(1), wax)] * much,
    )
    wires = findings.lots.get()
    for piece in cast.pieces.order_by("pk")[:much]:
        post_finish(piece, piece.as_cast_mg - 100, 50, w.DAY)
        post_use(wires, 1, w.DAY, cast=cast, piece=piece)
        BenchTime.objects.create(cast=cast, piece=piece, day=w.DAY, minutes=20, what="filing")
        BenchTime.objects.create(cast=cast, day=w.DAY, minutes=20, what="casting")
    return cast


def begin(lot: Lot, much: int) -> Cast:
    cast = post_start(CastFacts(f"leaves of {much}", w.DAY, w.sterling()))
    post_tree(cast, [TreeRecord(w.wax(), w.g(1))] * much, w.DAY)
    post_charge(cast, [w.Portion(lot, w.g(10))] * much, w.DAY)
    return cast


def begin_planned() -> Plan:
    plan = plans.plan()
    post_begin(plan)
    return plan


def count_shelf(much: int) -> StockCount:
    """A count of `much` lots that agree and as many that differ."""
    lots = [w.buy(w.wax(), w.g(20), 2) for _ in range(2 * much)]
    found = [LotFound(lot, w.g(20 - nth % 2), "slip") for nth, lot in enumerate(lots)]
    return post_stock_count(found, Round(w.DAY))


def send(much: int) -> Batch:
    """A batch of so many lots, settled in as many parts with metal back, of which some is still at the refiner."""
    for number in range(much):
        day = w.DAY - timedelta(days=number)
        terms = write_terms(w.refiner(), day, silver_pct100=9_500, charge_micro=w.money(2))
    portions = [w.Portion(w.buy(w.grain(), w.g(20), 20), w.g(10)) for _ in range(much)]
    batch = post_send(BatchFacts(w.refiner(), terms, price=(w.money(1), "g")), portions, w.DAY)
    for _ in range(much):
        metals = [MetalBack(w.grain(), w.g("0.1"))]
        paper = SettledPart(w.g(1), 92_000, 9_500, metals=metals, received_mg=w.g("1.01"))
        post_settle(batch, paper, w.DAY)
    return batch


def learn_from(cast: Cast, much: int) -> Design:
    """`much` designs, each of pieces of that name, with as many findings and tasks."""
    wires = list(Material.objects.filter(kind="finding")[:much])
    for number in range(much):
        design = Design.objects.get_or_create(name=f"Stud {number}", defaults={"alloy": cast.alloy})[0]
        write_parts(design, [(wire, 1) for wire in wires], [("file", "", 10, 1)] * much)
        claim_pieces(design)
        keep_picture(design=design)
    return Design.objects.get(name="Stud 0")


def offer(much: int) -> Offer:
    """`much` packs of powder, each with as many prices, of a supplier with as many steps of carriage."""
    material = Material.objects.create(name=f"Mould powder {much}", kind="powder", supplier=w.supplier())
    write_bands(w.supplier(), [(w.money(50 * step), w.money(9 - step)) for step in range(much)])
    post_use(w.buy(material, w.g(900), 4, timezone.localdate()), w.g(400), timezone.localdate())
    found = []
    for number in range(1, much + 1):
        found.append(
            Offer.objects.create(
                supplier=w.supplier(),
                material=material,
                quantity=w.g(5_000 * number),
                price_micro=w.money(20 * number),
                told_on=w.DAY,
            )
        )
        write_breaks(found[-1], [(packs, w.money(19 * number)) for packs in range(2, much + 2)])
    return found[0]


def order(much: int) -> Order:
    """`much` orders of as many materials, of which some came in as many parcels."""
    materials = list(Material.objects.filter(kind="finding")[:much])
    for _ in range(much):
        made = place_order(w.supplier(), [Ordered(one, 90, w.money(9)) for one in materials], w.DAY)
        for _ in range(much):
            line = DeliveryLine(materials[0], 2, w.money(1))
            post_delivery(w.supplier(), w.DAY, [line], Charges(), of=Receiving(made))
    return made


def picture_of(lot: Lot, cast: Cast) -> list[dict[str, Any]]:
    """What there are pictures of."""
    return [{"piece": cast.pieces.order_by("pk")[0]}, {"cast": cast}, {"lot": lot}]


def fill_shelf(much: int) -> Shelf:
    delivery, lot = stock(much)
    firing = w.fire(w.DAY - timedelta(days=much))
    for _ in range(much):
        keep_log(w.fire(w.DAY - timedelta(days=much)))
    keep_log(firing)
    casts = [close(lot, much) for _ in range(much)]
    Cast.objects.filter(pk__in=[cast.pk for cast in casts]).update(firing=firing)
    begun = [begin(lot, much) for _ in range(much)]
    post_reversal(post_use(w.buy(w.powder(), w.g(5000), 40), w.g(1), w.DAY))
    for number, cast in enumerate(casts):
        post_together(w.tin(), [w.lot_of(cast, "clean")], w.DAY)
        w.tin(name=f"Tin {much}.{number}")
    closed = Cast.objects.get(pk=casts[0].pk)
    return Shelf(
        closed=closed,
        begun=begun[0],
        piece=closed.pieces.order_by("pk")[0],
        lot=lot,
        delivery=delivery,
        firing=firing,
        entry=closed.entries.get(kind="close"),
        person=User.objects.create_user(f"Helper {much}"),
        plan=[plans.plan() for _ in range(much)][0],
        line=[ChecklistItem.objects.create(text="Tongs within reach") for _ in range(much)][0],
        batch=[send(much) for _ in range(much)][0],
        picture=[keep_picture(**of) for of in picture_of(lot, closed) for _ in range(much)][0],
        part=worn_parts(much),
        sheet=[LabelSheet.objects.create(name=f"Sheet {much}.{number}") for number in range(much)][0],
        begun_plan=[begin_planned() for _ in range(much)][0],
        count=count_shelf(much),
        design=learn_from(closed, much),
        offer=offer(much),
        order=order(much),
    )


@pytest.mark.skipif(not ON_SECOND, reason="test_views_hostile.py visits more there")
def test_every_page_answers(client: Client):
    """What each asks is the same on both databases: how often it does is counted where every page is tried."""
    w.make_studio()
    client.force_login(User.objects.create_user("Ada"))
    found = {name: client.get(address).status_code for name, address in addresses(fill_shelf(1))}
    assert set(found.values()) <= {200, 302, 404, 405}, found
