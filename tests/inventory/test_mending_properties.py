"""A book that was mended is the book that would have been written right the first time."""

from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.models import Cast, Holder, Lot, Piece, TreePart
from inventory.posting.assaying import KNOWN_FIELDS
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.refusal import Refused
from inventory.queries.ledger import TURN, standing_entries
from tests import histories
from tests.histories import begin_studio
from tests.inventory.test_two_hands import undone
from tests.support import problems
from tests.thorough import examples
from tests.wobble import wobble

pytestmark = pytest.mark.django_db

#: A reversal leaves later draws as they were, to the last unit: so a book with one is not to be had by writing alone.
WRITING = [step for step in histories.STEPS if step not in (histories.reverse, histories.mend)]


def in_turn():
    return standing_entries().select_related("cast", "piece__cast", "bill_for").order_by(TURN)


def state() -> dict[str, Any]:
    """All that the book says, but for the keys of its entries."""
    holders = Holder.objects.exclude(kind="outside").order_by("pk")
    lots = Lot.objects.order_by("pk").values_list(
        "pk",
        "material",
        "melts_milli",
        "fineness_by",
        "fine_low_ppm",
        "fine_high_ppm",
        "received_on",
        "void",
    )
    pieces = Piece.objects.order_by("pk").values_list("pk", "name", "as_cast_mg", "state", "state_on", "void")
    casts = Cast.objects.order_by("pk").values_list("pk", "alloy", "closed_on", "outcome", *KNOWN_FIELDS)
    parts = TreePart.objects.filter(void=False).order_by("cast", "pk")
    lines = [
        (
            entry.kind,
            entry.day,
            [(line.source_id, line.target_id, line.quantity, line.fine_ug, line.cost_micro)],
        )
        for entry in in_turn()
        for line in entry.movements.order_by("line")
    ]
    return {
        "holders": list(holders.values_list("pk", "quantity", "fine_ug", "cost_micro")),
        "lots": list(lots),
        "pieces": list(pieces),
        "casts": list(casts),
        "tree": list(parts.values_list("cast", "lot", "quantity")),
        "lines": lines,
    }


def write_whole_book_again() -> None:
    """Every standing entry taken back and written again, from the first on: no guess at what stands on what."""
    entries = list(in_turn())
    post_mended({entry: Mend(entry.day, read_given(entry)) for entry in entries})


@pytest.mark.slow
@settings(max_examples=examples(10))
@given(data=st.data())
def test_a_mended_book_is_the_book_written_right_the_first_time(data):
    def draw(below: int) -> int:
        return data.draw(st.integers(0, below - 1)) if below > 0 else 0

    with undone():
        begin_studio()
        for _ in range(data.draw(st.integers(4, 12))):
            try:
                with transaction.atomic():
                    WRITING[draw(len(WRITING))](draw)
            except Refused:
                pass
        entries = list(in_turn())
        for _ in range(2):
            entry = entries[draw(len(entries))]
            entry = in_turn().filter(kind=entry.kind).last() if entry not in in_turn() else entry
            if entry is None:
                continue
            before = state()
            try:
                with transaction.atomic():
                    post_mended({entry: Mend(entry.day, wobble(read_given(entry), draw))})
            except Refused as refused:
                assert refused.sentence.endswith(".")
                assert state() == before
        mended = state()
        assert problems() == []
        write_whole_book_again()
        assert state() == mended
        assert problems() == []
