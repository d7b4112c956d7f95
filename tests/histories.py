"""Random histories of a small studio: every kind of entry, in any order, at any depth.

`main(100_000)` does so many steps, in studios of some hundred steps each, and proves the books of each studio at its
end; it stops at the first promise that does not hold and says which seed made it. On an empty, migrated database:

    python -m tests.run_code "from tests.histories import main; main(100_000)"
"""

import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from costing.models import Channel, Outing, SaleLine
from costing.posting.sales import (
    Back,
    SaleFacts,
    Sold,
    bring_back,
    post_refund,
    post_sold,
    send_out,
    terms_of,
    write_bill,
)
from inventory.core.refining import Charges
from inventory.models import Batch, Cast, Customer, Entry, Lot, Material, Piece
from inventory.posting.assaying import Assay, post_assay
from inventory.posting.buying import post_late_bill
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
from inventory.posting.pieces import post_finish, post_finish_together, post_melt_back, post_return, post_sale
from inventory.posting.reclaim import post_apart, post_cleaned, post_together
from inventory.posting.refining import (
    BatchFacts,
    MetalBack,
    SettledPart,
    post_send,
    post_sent_back,
    post_settle,
)
from inventory.posting.refusal import Refused
from inventory.posting.reversal import post_reversal
from inventory.posting.setup import mixed_alloy, reclaim_material
from inventory.posting.stock import (
    OpeningLot,
    Told,
    post_count,
    post_hand_back,
    post_handed_in,
    post_opening,
    post_scrap,
    post_use,
)
from inventory.posting.topping import post_top_up
from inventory.queries.ledger import standing_entries
from inventory.queries.refining import amounts_sent
from tests import workshop as w
from tests.support import problems
from tests.wobble import wobble

#: A number from nothing up to below what it is given.
Draw = Callable[[int], int]
Kind = Entry.Kind
DAYS = 40


def _pick(rows, draw: Draw):
    """One of some rows, or None when there are none."""
    found = list(rows.order_by("pk"))
    return found[draw(len(found))] if found else None


def _day(draw: Draw) -> date:
    return w.DAY + timedelta(days=draw(DAYS))


def _lots(kind: str, **wanted):
    return Lot.objects.filter(void=False, material__kind=kind, **wanted)


def buy(draw: Draw) -> None:
    material = (w.grain, w.grain, w.grain, w.wax, w.powder)[draw(5)]()
    w.buy(material, 1 + draw(90_000), draw(900), _day(draw), carriage=draw(13))


def open_stock(draw: Draw) -> None:
    """As it was bought, or old buttons and failed castings, of a fineness that somebody knows or guesses."""
    origin = (Lot.Origin.OPENING, Lot.Origin.CLEAN, Lot.Origin.FAILED)[max(draw(5) - 2, 0)]
    material = w.grain() if origin == Lot.Origin.OPENING else reclaim_material(w.sterling())
    mass_mg, cost_micro = 1 + draw(20_000), w.money(draw(30))
    melts_milli, guess = draw(3) * 500, _guess(draw)
    opening = OpeningLot(material, mass_mg, cost_micro, origin, melts_milli=melts_milli, guess=guess)
    post_opening(opening, _day(draw))


def _guess(draw: Draw) -> tuple[int, int] | None:
    low_ppm = 850_000 + draw(90_000)
    return (low_ppm, low_ppm + draw(60_000)) if draw(3) == 0 else None


def take_in(draw: Draw) -> None:
    told = Told(guess=_guess(draw))
    post_handed_in(w.customer(), w.grain(), 1 + draw(40_000), _day(draw), told=told)


def top_up(draw: Draw) -> None:
    lot = _pick(_lots("metal", owner=None), draw)
    if lot:
        post_top_up(lot, w.customer(), 1 + draw(20_000), w.money(draw(40)), _day(draw))


def hand_back(draw: Draw) -> None:
    lot = _pick(_lots("metal", owner__isnull=False), draw)
    if lot:
        post_hand_back(lot, 1 + draw(30_000), _day(draw))


def cast(draw: Draw) -> None:
    """A whole cast, of the studio's metal or of a customer's."""
    owner = _pick(Customer.objects.all(), draw) if draw(5) == 0 else None
    lots = list(_lots("metal", owner=owner).order_by("pk"))
    chosen = [lots[draw(len(lots))] for _ in range(1 + draw(3))] if lots else []
    charge = [(lot, f"{1 + draw(30_000)}e-3") for lot in {lot.pk: lot for lot in chosen}.values()]
    charge_mg = sum(w.g(grams) for _, grams in charge)
    out_mg = max(charge_mg - draw(2_000) + draw(30), 0)
    pieces_mg = out_mg * draw(100) // 100
    pieces = [] if draw(6) == 0 else [w.PieceGroup("Leaf", pieces_mg, 1 + draw(4))]
    failed_mg = (out_mg - pieces_mg) * draw(3) // 4
    back_mg = out_mg - failed_mg - (pieces_mg if pieces else 0)
    w.cast_metal(
        charge,
        pieces,
        back=f"{back_mg}e-3",
        day=_day(draw),
        failed=not pieces,
        failed_mg=failed_mg,
        owner=owner,
        firing=w.fire() if draw(2) else None,
        as_it_is=draw(4) > 0,
    )


def begin(draw: Draw) -> None:
    post_start(CastFacts("studs", _day(draw), w.sterling()))


def weigh_tree(draw: Draw) -> None:
    opened, lot = _pick(Cast.objects.filter(closed_on=None), draw), _pick(_lots("pattern"), draw)
    if opened and lot:
        post_tree(opened, [TreeRecord(lot.material, 1 + draw(9_000), lot if draw(3) else None)], _day(draw))


def invest(draw: Draw) -> None:
    opened, lot = _pick(Cast.objects.filter(closed_on=None), draw), _pick(_lots("powder"), draw)
    if opened and lot:
        post_powder(opened, [Portion(lot, 1 + draw(20_000))], None, _day(draw))


def charge(draw: Draw) -> None:
    opened, lot = _pick(Cast.objects.all(), draw), _pick(_lots("metal"), draw)
    if opened and lot:
        post_charge(opened, [Portion(lot, 1 + draw(20_000))], _day(draw))


def close(draw: Draw) -> None:
    opened = _pick(Cast.objects.all(), draw)
    if opened:
        out_mg = max(opened.crucible_holder.quantity - draw(900) + draw(20), 1)
        spill_mg = draw(3) * 100
        weights = Weights(
            [w.PieceGroup("Pod", max(out_mg // 2, 1), 1 + draw(2))],
            max(out_mg - out_mg // 2 - spill_mg, 0),
            as_it_is=draw(4) > 0,
        )
        post_close(opened, weights, _day(draw))


def reverse(draw: Draw) -> None:
    entry = _pick(Entry.objects.all(), draw)
    if entry:
        post_reversal(entry)


def finish(draw: Draw) -> None:
    piece = _pick(Piece.objects.filter(void=False), draw)
    if piece:
        filings = draw(400)
        post_finish(
            piece, max(piece.holder.quantity - filings - draw(100) + draw(20), 1), filings, _day(draw)
        )


def finish_together(draw: Draw) -> None:
    poured = _pick(Cast.objects.filter(closed_on__isnull=False), draw)
    pieces = list(poured.pieces.filter(void=False).select_related("holder")) if poured else []
    if pieces:
        weighed = [(piece, max(piece.holder.quantity - draw(150), 1)) for piece in pieces]
        gone_mg = sum(piece.holder.quantity - mass_mg for piece, mass_mg in weighed)
        post_finish_together(weighed, gone_mg * draw(11) // 10, _day(draw))


def part_with(draw: Draw) -> None:
    piece = _pick(Piece.objects.filter(void=False), draw)
    if piece:
        (post_sale if draw(2) else post_melt_back)(piece, _day(draw))


def come_back(draw: Draw) -> None:
    piece = _pick(Piece.objects.filter(void=False, state__in=("sold", "handed")), draw)
    if piece:
        post_return(piece, _day(draw))


def find(draw: Draw) -> None:
    poured = _pick(Cast.objects.filter(closed_on__isnull=False), draw)
    if poured:
        post_found(poured, 1 + draw(500), Lot.Origin.SWEEPS, _day(draw))


def assay(draw: Draw) -> None:
    lot = _pick(_lots("metal"), draw)
    if lot:
        low_ppm = 880_000 + draw(120) * 1_000
        high_ppm = min(low_ppm + draw(3) * draw(90_000), 1_000_000)
        is_guess = high_ppm > low_ppm
        post_assay(Assay(lot, low_ppm, high_ppm, is_guess, goes_on=draw(3) > 0), _day(draw))


def count(draw: Draw) -> None:
    lot = _pick(Lot.objects.all(), draw)
    if lot:
        post_count(lot, max(lot.holder.quantity + draw(200) - 100, 0), _day(draw))


def scrap(draw: Draw) -> None:
    lot = _pick(Lot.objects.filter(void=False), draw)
    if lot:
        post_scrap(lot, 1 + draw(9_000), _day(draw))


def use(draw: Draw) -> None:
    lot = _pick(Lot.objects.exclude(material__kind=Material.Kind.METAL), draw)
    if lot:
        post_use(lot, 1 + draw(900), _day(draw), piece=_pick(Piece.objects.all(), draw) if draw(2) else None)


def bill(draw: Draw) -> None:
    lot = _pick(Lot.objects.filter(delivery__isnull=False), draw)
    if lot:
        post_late_bill(lot.delivery, 1 + draw(9_000_000), _day(draw))


def clean(draw: Draw) -> None:
    lot = _pick(Lot.objects.filter(origin__in=Lot.IN_PIECES).exclude(origin="clean", tin=None), draw)
    if lot:
        post_cleaned(lot, max(lot.holder.quantity - draw(40) + draw(30), 1), _day(draw))


def put_together(draw: Draw) -> None:
    """Up to three lots in a tin of the studio's or of its customer's, some that do not belong there among them."""
    owner = _pick(Customer.objects.all(), draw) if draw(4) == 0 else None
    alloy = mixed_alloy("silver") if draw(2) else w.sterling()
    tin = w.tin(("clean", "clean", "filings")[draw(3)], owner, f"tin {draw(4)}", alloy)
    found = Lot.objects.filter(origin__in=Lot.RECLAIM, holder__quantity__gt=0)
    if draw(9):
        found = found.filter(origin=tin.kind, owner=tin.owner, material=tin.material)
    lots = list(found.order_by("pk"))
    post_together(tin, [lots[draw(len(lots))] for _ in range(1 + draw(3))] if lots else [], _day(draw))


def take_apart(draw: Draw) -> None:
    lot = _pick(Lot.objects.filter(tin__isnull=False), draw)
    if lot:
        post_apart(lot, 1 + draw(lot.holder.quantity + 50), _day(draw))


def send(draw: Draw) -> None:
    lots = [lot for lot in (_pick(_lots("metal"), draw) for _ in range(1 + draw(2))) if lot]
    portions = [Portion(lot, 1 + draw(20_000)) for lot in {lot.pk: lot for lot in lots}.values()]
    post_send(BatchFacts(w.refiner()), portions, _day(draw))


def settle(draw: Draw) -> None:
    batch = _pick(Batch.objects.filter(void=False), draw)
    if batch:
        held_mg = batch.holder.quantity
        part_mg = 1 + draw(held_mg) if draw(3) == 0 else None
        melted_mg = max((part_mg or held_mg) - draw(400) + draw(20), 0)
        back = [MetalBack(w.grain(), 1 + draw(melted_mg + 50))] if draw(2) else []
        charges = Charges(draw(40) * 500_000, draw(2) * 3_000_000)
        paper = SettledPart(
            melted_mg, 80_000 + draw(20_000), draw(10_001), charges, (w.money(1), "g"), back, part_mg
        )
        post_settle(batch, paper, _day(draw))


def send_back(draw: Draw) -> None:
    batch = _pick(Batch.objects.filter(void=False), draw)
    if batch:
        portions = [
            Portion(lot, max(amount.quantity - draw(90) + draw(12), 0))
            for lot, amount in amounts_sent(batch).items()
        ]
        post_sent_back(batch, portions, _day(draw))


def _channel(draw: Draw) -> Channel:
    tax = ("in", "out", "none")[draw(3)]
    fees = {"commission_pct100": 3_333, "card_pct100": 175, "card_micro": w.money("0.25")}
    return Channel.objects.get_or_create(name=f"taxed {tax}", tax=tax, defaults=fees)[0]


def sell(draw: Draw) -> None:
    """One or two pieces with their money: here, out with somebody, or gone without a price."""
    pieces = {
        piece.pk: piece
        for piece in (_pick(Piece.objects.filter(void=False), draw) for _ in range(2))
        if piece
    }
    sold = [Sold(piece, draw(9_000) * 10_000) for piece in pieces.values()]
    outing = _pick(Outing.objects.all(), draw) if draw(3) == 0 else None
    facts = SaleFacts(channel=_channel(draw), day=_day(draw), outing=outing, is_owed=draw(2) > 0)
    terms = replace(terms_of(facts.channel, facts.day), tax_pct100=1_750, discount_micro=draw(900) * 10_000)
    sale = post_sold(facts, sold, terms)
    if draw(4) == 0:
        write_bill(sale, "somebody", "", _day(draw))


def pay_back(draw: Draw) -> None:
    line = _pick(SaleLine.objects.all(), draw)
    if line:
        fees_micro = draw(3) * draw(400) * 10_000
        post_refund(line, Back(draw(line.paid_micro + 50_000), _day(draw), draw(3) > 0, fees_micro))


def go_out(draw: Draw) -> None:
    pieces = [piece for piece in (_pick(Piece.objects.filter(void=False), draw),) if piece]
    outing = Outing(kind=("fair", "gallery")[draw(2)], channel=_channel(draw), name="away", day=_day(draw))
    send_out(outing, [(piece, None) for piece in pieces])


def come_home(draw: Draw) -> None:
    outing = _pick(Outing.objects.all(), draw)
    if outing:
        bring_back(outing, None, _day(draw))


def mend(draw: Draw) -> None:
    """One entry, as deep in the book as may be, written as it should have been: more or less, another lot or day."""
    entry = _pick(standing_entries().select_related("cast", "piece__cast", "bill_for"), draw)
    if entry:
        given = read_given(entry)
        day = entry.day + timedelta(days=draw(5) - 2) if draw(3) == 0 else entry.day
        post_mended({entry: Mend(day, wobble(given, draw) if draw(9) else None)})


#: What a step may be, with the kinds of entry that it may leave.
STEPS: dict[Callable[[Draw], None], tuple[Kind, ...]] = {
    buy: (Kind.DELIVERY,),
    open_stock: (Kind.OPENING,),
    take_in: (Kind.HANDED_IN,),
    hand_back: (Kind.HAND_BACK,),
    top_up: (Kind.TOP_UP,),
    cast: (Kind.CHARGE, Kind.CLOSE),
    begin: (),
    weigh_tree: (Kind.TREE,),
    invest: (Kind.POWDER,),
    charge: (Kind.CHARGE,),
    close: (Kind.CLOSE,),
    reverse: (Kind.REVERSAL,),
    finish: (Kind.FINISH,),
    finish_together: (Kind.FINISH,),
    part_with: (Kind.SALE, Kind.MELT_BACK),
    come_back: (Kind.RETURN,),
    find: (Kind.FOUND,),
    count: (Kind.COUNT,),
    assay: (Kind.ASSAY,),
    scrap: (Kind.SCRAP,),
    use: (Kind.USE,),
    bill: (Kind.LATE_BILL,),
    clean: (Kind.CLEANED,),
    put_together: (Kind.TOGETHER,),
    take_apart: (Kind.APART,),
    send: (Kind.SEND,),
    settle: (Kind.SETTLE,),
    send_back: (Kind.SENT_BACK,),
    sell: (Kind.SALE,),
    pay_back: (Kind.RETURN,),
    go_out: (),
    come_home: (),
    mend: (Kind.REVERSAL,),
}
#: Casts, findings and reversals are where things meet, so they come up more often.
TURNS = [
    *STEPS,
    *(send, settle, settle, cast, cast, finish, find, find, put_together, put_together),
    *(reverse, reverse, mend, mend),
]


def begin_studio() -> None:
    w.make_studio(fills_tins=True)
    w.tin(name="tin 0")
    w.buy(w.grain(), w.g(100), 130)


def _walk(seed: int, steps: int) -> tuple[int, list[str]]:
    """One studio of so many steps, undone at its end: how many were posted, and what is wrong."""
    from django.db import transaction

    draw, posted = random.Random(seed), 0
    with transaction.atomic():
        begin_studio()
        for _ in range(steps):
            try:
                with transaction.atomic():
                    TURNS[draw.randrange(len(TURNS))](lambda below: draw.randrange(below) if below > 0 else 0)
                    posted += 1
            except Refused:
                pass
        found = problems()
        transaction.set_rollback(True)
    return posted, found


def main(wanted: int, steps: int = 200) -> None:
    started, posted = time.monotonic(), 0
    for seed in range(wanted // steps):
        more, found = _walk(seed, steps)
        posted += more
        if found:
            sys.exit(f"seed {seed}: " + "\n".join(found[:20]))
    seconds = time.monotonic() - started
    print(f"{wanted // steps * steps} steps, {posted} not refused, {seconds:.0f} s: every promise holds")
