"""Writing of work and parts from outside: what each piece carries of a bill."""

from collections.abc import Sequence

from costing.models import OutsideShare, OutsideWork
from inventory.models import Piece
from studio.kit.rounding import allocate_largest_remainder

Basis = OutsideWork.Basis


def write_outside(work: OutsideWork, pieces: Sequence[Piece]) -> None:
    """Save a record and share it over the pieces, to the last unit; those of one that is changed are shared anew.

    So much for each piece is that on each; a bill goes equally, or by the mass as cast.
    """
    if work.basis == Basis.EACH:
        shares = [work.amount_micro] * len(pieces)
    else:
        weights = [piece.as_cast_mg if work.basis == Basis.MASS else 1 for piece in pieces]
        shares = allocate_largest_remainder(work.amount_micro, weights)
    work.save()
    work.shares.all().delete()
    OutsideShare.objects.bulk_create(
        OutsideShare(work=work, piece=piece, amount_micro=micro)
        for piece, micro in zip(pieces, shares, strict=True)
    )


def remove_outside(work: OutsideWork) -> None:
    """Take out what was written down wrong: it is a record of money, not stock."""
    work.delete()
