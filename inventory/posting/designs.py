"""Writing of designs: what a piece of one takes, and which pieces are of it."""

from collections.abc import Iterable, Sequence

from inventory.models import Design, DesignPart, DesignTime, Material, Piece, PlanPart
from inventory.queries.designs import nameless_pieces

from .locking import studio_locked


def write_parts(
    design: Design, parts: Iterable[tuple[Material, int]], times: Iterable[tuple[str, str, int, int]]
) -> None:
    """Give a saved design its findings, as (material, quantity), and usual times, as (task, words, minutes, pieces)."""
    design.parts.all().delete()
    DesignPart.objects.bulk_create(
        DesignPart(design=design, material=material, quantity=quantity, place=place)
        for place, (material, quantity) in enumerate(parts)
    )
    design.times.all().delete()
    DesignTime.objects.bulk_create(
        DesignTime(design=design, task=task, what=what, minutes=minutes, pieces=pieces, place=place)
        for place, (task, what, minutes, pieces) in enumerate(times)
    )


def claim_pieces(design: Design) -> int:
    """Say of the pieces and planned patterns with a design's name that they are of it. Returns how many pieces."""
    with studio_locked():
        found = nameless_pieces(design)
        Piece.objects.filter(pk__in=[piece.pk for piece in found]).update(design=design)
        PlanPart.objects.filter(design=None, is_piece=True, label__iexact=design.name).update(design=design)
    return len(found)


def set_design(pieces: Sequence[Piece], design: Design | None) -> None:
    """Say of what design pieces are; None for none."""
    Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).update(design=design)
