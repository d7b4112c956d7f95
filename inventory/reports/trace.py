"""Tracing: from a piece back to every lot in it, and from a lot forward to every piece that it is in."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.urls import reverse

from inventory.forms.trace import LotTraceForm, PieceTraceForm
from inventory.models import Lot, Material, Piece
from inventory.queries.became import BECAME, what_became_of
from inventory.queries.ledger import name_lot
from inventory.queries.refining import batches_with
from inventory.queries.studio import current_studio
from inventory.queries.trace import lots_by_key, origins_of, pieces_with, shares_on
from studio.kit.documents import Block, Column, Document, Facts, Filled, Prose, fill_table, summed
from studio.kit.printing import print_weighed
from studio.kit.reporting import report
from studio.kit.rounding import allocate_largest_remainder
from studio.kit.units import divide_half_up

from .making import make_document

_SOURCE = (
    "What comes out of one crucible is of one make: a button holds the metals of its charge in the proportions in "
    "which they were weighed in, and so does all that is cast from it later. Common practice; how well the melt was "
    "stirred is not known."
)


@report(
    "trace-piece",
    "Where a piece came from",
    "Every lot of metal in a piece, through all remelts, with its share, and the powder it was cast in.",
    PieceTraceForm,
    place=60,
)
def build_piece_trace(params: Mapping[str, Any]) -> Document:
    piece: Piece = params["piece"]
    origins = origins_of(piece.cast)
    shares = [source.share for source in origins.sources]
    masses_mg = allocate_largest_remainder(piece.as_cast_mg, shares)
    lots = [source.lot for source in origins.sources]
    metal = fill_table(
        "Metal in it",
        (
            *_name_lots(lots),
            Filled(Column("came", "Came", "day"), [lot.received_on for lot in lots]),
            summed(Column("mass", "In this piece", "mass"), masses_mg),
            Filled(Column("share", "Share", "percent"), allocate_largest_remainder(10_000, shares), 10_000),
        ),
        note=_SOURCE,
    )
    powder = fill_table(
        "Powder of its mould",
        (
            *_name_lots([lot for lot, _ in origins.powder]),
            Filled(Column("batch", "Batch"), [lot.supplier_batch for lot, _ in origins.powder]),
            summed(Column("mass", "In the mould", "mass"), [mass_mg for _, mass_mg in origins.powder]),
        ),
    )
    facts = Facts(
        (
            ("Cast", f"{piece.cast.number}, {piece.cast.title}"),
            ("Weighed as cast", print_weighed(piece.as_cast_mg)),
            ("The oldest of its metal", f"melted {origins.melts} time{'' if origins.melts == 1 else 's'}"),
        )
    )
    return make_document(
        current_studio(),
        "Where a piece came from",
        (facts, metal, powder),
        f"trace-cast-{piece.cast.number}-piece-{piece.number}",
        f"{piece.name}, piece {piece.number} of cast {piece.cast.number}",
    )


@report(
    "trace-lot",
    "Where a lot went",
    "What became of every gram of a lot, and every piece that has metal of it in it, through all remelts, or that was "
    "cast in its powder.",
    LotTraceForm,
    place=61,
)
def build_lot_trace(params: Mapping[str, Any]) -> Document:
    lot: Lot = params["lot"]
    shares = shares_on(lot)
    held = pieces_with(lot, shares)
    pieces = [one.piece for one in held]
    address = reverse("inventory:piece-detail", args=[0])
    columns = [
        Filled(
            Column("piece", "Piece"),
            [piece.name for piece in pieces],
            "Together",
            # An address is put together once: there may be thousands.
            [address.replace("0", str(piece.pk)) for piece in pieces],
        ),
        Filled(Column("cast", "Cast", "number"), [piece.cast.number for piece in pieces]),
        Filled(Column("day", "Cast on", "day"), [piece.cast.day for piece in pieces]),
        Filled(Column("state", "State"), [piece.get_state_display() for piece in pieces]),
    ]
    if lot.material.kind == Material.Kind.METAL:
        columns += [
            summed(Column("mass", "Of this lot", "mass"), [one.of_lot_mg for one in held]),
            Filled(
                Column("share", "Share", "percent"),
                [divide_half_up(10_000 * one.of_lot_mg, one.piece.as_cast_mg) for one in held],
            ),
        ]
    blocks: tuple[Block, ...] = (
        _tell_what_became(lot, shares) if lot.material.kind == Material.Kind.METAL else ()
    )
    blocks += (
        (fill_table("Pieces, as they were cast", columns, note=_SOURCE),)
        if held
        else (Prose("No piece has anything of this lot."),)
    )
    sent = batches_with(lot)
    if sent:
        blocks += (
            fill_table(
                "Sent to a refiner",
                (
                    Filled(Column("batch", "Batch", "number"), [batch.pk for batch, _ in sent], "Together"),
                    Filled(Column("refiner", "Refiner"), [str(batch.refiner) for batch, _ in sent]),
                    Filled(Column("day", "Sent", "day"), [batch.sent_on for batch, _ in sent]),
                    summed(Column("mass", "Of this lot", "mass"), [mass_mg for _, mass_mg in sent]),
                ),
            ),
        )
    return make_document(current_studio(), "Where a lot went", blocks, f"trace-lot-{lot.pk}", name_lot(lot))


def _tell_what_became(lot: Lot, shares: Mapping[int, int]) -> tuple[Block, ...]:
    became = what_became_of(lot, shares)
    if not became.rows:
        return ()
    rows = list(became.rows.values())
    blocks: tuple[Block, ...] = (
        fill_table(
            "What became of it",
            (
                Filled(
                    Column("what", "What"),
                    [BECAME[row] for row in became.rows],
                    "All that came into this lot",
                ),
                summed(Column("mass", "Of this lot", "mass"), rows),
            ),
        ),
    )
    if became.lots:
        lots = lots_by_key(became.lots)
        blocks += (
            fill_table(
                "Lots and tins that hold it now",
                (
                    *_name_lots([lots[pk] for pk in became.lots]),
                    summed(Column("mass", "Of this lot", "mass"), list(became.lots.values())),
                ),
            ),
        )
    return blocks


def _name_lots(lots: Sequence[Lot]) -> tuple[Filled, Filled]:
    return (
        Filled(
            Column("lot", "Lot"),
            [name_lot(lot) for lot in lots],
            "Together",
            [reverse("inventory:lot-detail", args=[lot.pk]) for lot in lots],
        ),
        Filled(Column("from", "From"), [_say_from(lot) for lot in lots]),
    )


def _say_from(lot: Lot) -> str:
    if lot.supplier is not None:
        return str(lot.supplier)
    return str(lot.owner) if lot.owner is not None else lot.get_origin_display()
