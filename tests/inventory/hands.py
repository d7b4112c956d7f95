"""Two people who post at once: one small studio with an entry of every kind, and everything that can be done to it.

A hand first reads what it will post on, as a page does, and posts later: whatever happened meanwhile it has not
seen. Hands are found by the list of kinds, so a new kind of entry has to show its hand here.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import Model

from inventory.models import Cast, Customer, Delivery, Entry, Lot, Material, Piece, Tin
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.buying import Charges, DeliveryLine, post_delivery, post_late_bill
from inventory.posting.casting import (
    CastFacts,
    Portion,
    TreeRecord,
    post_charge,
    post_close,
    post_found,
    post_powder,
    post_start,
    post_tree,
)
from inventory.posting.closing import Weights
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.pieces import post_finish, post_melt_back, post_return, post_sale
from inventory.posting.reclaim import post_apart, post_cleaned, post_together
from inventory.posting.refining import BatchFacts, SettledPart, post_send, post_sent_back, post_settle
from inventory.posting.reversal import post_reversal
from inventory.posting.stock import (
    OpeningLot,
    post_count,
    post_hand_back,
    post_handed_in,
    post_opening,
    post_scrap,
    post_use,
)
from inventory.posting.topping import post_top_up
from tests import workshop as w
from tests.wobble import wobble

Kind = Entry.Kind
LATER = w.DAY + timedelta(days=5)
Post = Callable[[], Any]


class Scene:
    """A studio in which one entry of every kind stands. It keeps keys only, so that every hand reads for itself."""

    def __init__(self) -> None:
        grain, wax, powder = w.grain(), w.wax(), w.powder()
        self.rows: dict[str, tuple[type[Model], int]] = {}
        self.entries: dict[str, int] = {}
        metal = self._keep("metal", w.buy(grain, w.g(100), 130))
        self._note("delivery", metal.entry)
        self._keep("delivery", metal.delivery)
        self._note("late_bill", post_late_bill(metal.delivery, w.money(3), w.DAY))
        self._keep("old", post_opening(OpeningLot(grain, w.g(20), w.money(20)), w.DAY), "opening")
        self._note("top_up", post_top_up(self.old, w.customer(), w.g(5), w.money(8), w.DAY).entry)
        theirs = self._keep("theirs", post_handed_in(w.customer(), grain, w.g(50), w.DAY), "handed_in")
        self._note("hand_back", post_hand_back(theirs, w.g(1), w.DAY))
        # A cast that is poured and closed, with 2 g lost, and pieces in every state.
        poured = w.cast_metal(
            [(metal, 30)],
            [w.piece(name, 4) for name in ("Leaf", "Pod", "Stud", "Bud", "Ring")],
            back=8,
            filings_mg=0,
        )
        self._keep("poured", poured)
        pieces = [self._keep(piece.name, piece) for piece in poured.pieces.order_by("number")]
        self._note("close", poured.entries.get(kind=Kind.CLOSE))
        self._note("finish", post_finish(pieces[1], w.g("3.5"), w.g("0.2"), w.DAY))
        self._note("sale", post_sale(pieces[2], w.DAY))
        post_sale(pieces[4], w.DAY)
        self._note("return", post_return(pieces[4], w.DAY))
        self._note("melt_back", post_melt_back(pieces[3], w.DAY))
        self._keep("found", post_found(poured, w.g("0.5"), Lot.Origin.SPILL, w.DAY), "found")
        # Reclaim of every sort: failed castings, some cleaned and some not, and a tin out of which some was taken.
        failed = w.cast_metal([(metal, 4)], [w.piece("Bell", 1)], back=1, failed_mg=w.g(2))
        self._keep("cleaned", post_cleaned(w.lot_of(failed, "failed"), w.g("1.8"), w.DAY), "cleaned")
        dirty = w.cast_metal([(metal, 4)], [w.piece("Burr", 1)], back=1, failed_mg=w.g(2))
        self._keep("failed", w.lot_of(dirty, "failed"))
        self._keep("button", w.lot_of(dirty, "clean"))
        tin = self._keep("tin", w.tin(name=f"Tin {Tin.objects.count() + 1}"))
        self._keep("tinned", post_together(tin, [w.lot_of(failed, "clean")], w.DAY), "together")
        self._keep("out", post_apart(self.tinned, w.g("0.2"), w.DAY), "apart")
        # A cast under way, with a tree, a mould and metal in its crucible.
        opened = self._keep("opened", post_start(CastFacts("ear studs", w.DAY, w.sterling())))
        pattern, mould = (
            self._keep("wax", w.buy(wax, w.g(50), 5)),
            self._keep("mould", w.buy(powder, w.g(900), 9)),
        )
        post_tree(opened, [TreeRecord(wax, w.g(5), pattern)], w.DAY)
        post_powder(opened, [Portion(mould, w.g(400))], None, w.DAY)
        post_charge(opened, [Portion(metal, w.g(10))], w.DAY)
        for kind in (Kind.TREE, Kind.POWDER, Kind.CHARGE):
            self._note(kind.value, opened.entries.get(kind=kind))
        self._note("use", post_use(mould, w.g(1), w.DAY, piece=pieces[0]))
        self._note("scrap", post_scrap(mould, w.g(2), w.DAY))
        self._note("count", post_count(mould, w.g(480), w.DAY))
        # Three batches at a refiner: one half settled, one sent back, one that is still there.
        facts = BatchFacts(w.refiner())
        half = self._keep("half", post_send(facts, [Portion(metal, w.g(4))], w.DAY), "send")
        part = SettledPart(w.g("1.9"), 92_000, 9_500, received_mg=w.g(2))
        self._note("settle", post_settle(half, part, w.DAY).entry)
        returned = post_send(facts, [Portion(metal, w.g(1))], w.DAY)
        self._note("sent_back", post_sent_back(returned, [Portion(metal, w.g("0.9"))], w.DAY))
        self._keep("away", post_send(facts, [Portion(metal, w.g(2))], w.DAY))
        jar = self._keep("jar", post_opening(OpeningLot(grain, w.g(9), 0, guess=(800_000, 925_000)), w.DAY))
        self._note("assay", post_assay(Assay(jar, 880_000, 880_000, by_whom="the assay office"), w.DAY))

    def _keep(self, name: str, row: Any, entry: str = "") -> Any:
        self.rows[name] = (type(row), row.pk)
        if entry:
            self._note(entry, row.entry)
        return row

    def _note(self, kind: str, entry: Entry | None) -> None:
        assert entry is not None
        self.entries[kind] = entry.pk

    def __getattr__(self, name: str) -> Any:
        """A row of the scene, read anew by whoever asks."""
        model, pk = self.__dict__["rows"][name]
        return model._base_manager.get(pk=pk)


@dataclass(frozen=True)
class Hand:
    """`read` reads what is needed of a scene, and returns what posts."""

    name: str
    read: Callable[[Scene], Post]


def _deliver(scene: Scene) -> Post:
    grain = Material.objects.select_related("alloy").get(pk=scene.metal.material_id)
    return lambda: post_delivery(w.supplier(), LATER, [DeliveryLine(grain, w.g(9), w.money(9))], Charges())


def _open_stock(scene: Scene) -> Post:
    grain = Material.objects.select_related("alloy").get(pk=scene.metal.material_id)
    return lambda: post_opening(OpeningLot(grain, w.g(9), w.money(9)), LATER)


def _take_in(scene: Scene) -> Post:
    grain, customer = scene.metal.material, Customer.objects.get()
    return lambda: post_handed_in(customer, grain, w.g(9), LATER)


def _top_up(scene: Scene) -> Post:
    lot, customer = scene.metal, Customer.objects.get()
    return lambda: post_top_up(lot, customer, w.g(40), w.money(60), LATER)


def _on(name: str, act: Callable[[Any], Any]) -> Callable[[Scene], Post]:
    def read(scene: Scene) -> Post:
        row = getattr(scene, name)
        return lambda: act(row)

    return read


def _with_lot(cast: str, lot: str, act: Callable[[Cast, Lot], Any]) -> Callable[[Scene], Post]:
    def read(scene: Scene) -> Post:
        one, other = getattr(scene, cast), getattr(scene, lot)
        # What a posting looks at is read before it is posted, as a form does.
        _ = other.material, other.holder, one.crucible_holder
        return lambda: act(one, other)

    return read


def _use(scene: Scene) -> Post:
    mould, piece = scene.mould, Piece.objects.select_related("cast").get(pk=scene.rows["Leaf"][1])
    return lambda: post_use(mould, w.g(1), LATER, piece=piece)


def _put_in(scene: Scene) -> Post:
    tin, button = scene.tin, scene.button
    return lambda: post_together(tin, [button], LATER)


def _thirty(lot: Lot) -> TreeRecord:
    return TreeRecord(lot.material, w.g(30), lot)


def _grams(lot: Lot, grams: int) -> list[Portion]:
    return [Portion(lot, w.g(grams))]


_OPEN_WEIGHTS = Weights([w.piece("Hoop", 6)], back_mg=w.g("3.5"))

#: How each kind of entry is posted on a scene. Amounts are such that two of a kind do not both fit where they draw.
BY_KIND: dict[Kind, Callable[[Scene], Post]] = {
    Kind.DELIVERY: _deliver,
    Kind.OPENING: _open_stock,
    Kind.HANDED_IN: _take_in,
    Kind.LATE_BILL: _on("delivery", lambda delivery: post_late_bill(delivery, w.money(2), LATER)),
    Kind.TREE: _with_lot("opened", "wax", lambda cast, lot: post_tree(cast, [_thirty(lot)], LATER)),
    Kind.POWDER: _with_lot(
        "opened", "mould", lambda cast, lot: post_powder(cast, _grams(lot, 300), None, LATER)
    ),
    Kind.CHARGE: _with_lot("opened", "metal", lambda cast, lot: post_charge(cast, _grams(lot, 40), LATER)),
    Kind.CLOSE: _on("opened", lambda cast: post_close(cast, _OPEN_WEIGHTS, LATER)),
    Kind.FINISH: _on("Leaf", lambda piece: post_finish(piece, w.g("3.8"), w.g("0.1"), LATER)),
    Kind.MELT_BACK: _on("Leaf", lambda piece: post_melt_back(piece, LATER)),
    Kind.SALE: _on("Leaf", lambda piece: post_sale(piece, LATER)),
    Kind.RETURN: _on("Stud", lambda piece: post_return(piece, LATER)),
    Kind.USE: _use,
    Kind.COUNT: _on("metal", lambda lot: post_count(lot, w.g(55), LATER)),
    Kind.SCRAP: _on("metal", lambda lot: post_scrap(lot, w.g(40), LATER)),
    Kind.HAND_BACK: _on("theirs", lambda lot: post_hand_back(lot, w.g(30), LATER)),
    Kind.TOP_UP: _top_up,
    Kind.ASSAY: _on("theirs", lambda lot: post_assay(Assay(lot, 917_000, 917_000, goes_on=True), LATER)),
    Kind.FOUND: _on("poured", lambda cast: post_found(cast, w.g(1), Lot.Origin.SPILL, LATER)),
    Kind.CLEANED: _on("failed", lambda lot: post_cleaned(lot, w.g("1.9"), LATER)),
    Kind.TOGETHER: _put_in,
    Kind.APART: _on("tinned", lambda lot: post_apart(lot, w.g("0.7"), LATER)),
}


def _send(scene: Scene) -> Post:
    facts, metal = BatchFacts(w.refiner()), scene.metal
    _ = metal.material.alloy, metal.holder
    return lambda: post_send(facts, _grams(metal, 35), LATER)


def _send_back(scene: Scene) -> Post:
    away, metal = scene.away, scene.metal
    return lambda: post_sent_back(away, [Portion(metal, w.g("1.8"))], LATER)


_PAPER = SettledPart(w.g("1.8"), 92_500, 9_500, received_mg=w.g("1.9"))
BY_KIND |= {
    Kind.SEND: _send,
    Kind.SETTLE: _on("away", lambda batch: post_settle(batch, _PAPER, LATER)),
    Kind.SENT_BACK: _send_back,
}


def _reverse(kind: str) -> Callable[[Scene], Post]:
    def read(scene: Scene) -> Post:
        entry = Entry.objects.get(pk=scene.entries[kind])
        return lambda: post_reversal(entry)

    return read


def _mend(kind: str) -> Callable[[Scene], Post]:
    def read(scene: Scene) -> Post:
        entry = Entry.objects.get(pk=scene.entries[kind])
        given = wobble(read_given(entry), lambda below: 0)
        return lambda: post_mended({entry: Mend(entry.day, given)})

    return read


HANDS: list[Hand] = [
    *(Hand(kind.value, read) for kind, read in BY_KIND.items()),
    *(Hand(f"reversal of {kind.value}", _reverse(kind.value)) for kind in BY_KIND),
    *(Hand(f"mending of {kind.value}", _mend(kind.value)) for kind in BY_KIND),
]


def touched_by(entry: Entry) -> Iterator[tuple[str, int]]:
    """What an entry stands on: its holders of the studio, its cast, its piece, its delivery."""
    for line in entry.movements.select_related("source", "target"):
        for holder in (line.source, line.target):
            if not holder.place:
                yield "holder", holder.pk
    for name in ("cast", "piece", "bill_for"):
        key = getattr(entry, f"{name}_id")
        if key is not None:
            yield name, key
    delivery = Delivery.objects.filter(entry=entry).first()
    if delivery is not None:
        yield "bill_for", delivery.pk
