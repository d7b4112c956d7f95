"""Whatever a studio does, in whatever order, the promises of the ledger hold after each step."""

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from costing.queries.costed import cost_casts
from inventory.models import Cast, Entry, Holder, Lot, Movement
from inventory.posting.refusal import Refused
from tests.histories import STEPS, TURNS, begin_studio
from tests.inventory.test_two_hands import undone
from tests.support import problems
from tests.thorough import examples

pytestmark = pytest.mark.django_db


def test_every_kind_of_entry_may_come_up():
    assert {kind for kinds in STEPS.values() for kind in kinds} == set(Entry.Kind)


def row_counts() -> tuple[int, ...]:
    return tuple(model._default_manager.count() for model in (Movement, Entry, Cast, Lot))


def assert_costs_add_up() -> None:
    """Once more, and not by the audit, which asks for the costs after each step as well."""
    for costed in cost_casts(Cast.objects.values_list("pk", flat=True)).values():
        cost = costed.cost
        assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro


@pytest.mark.slow
@settings(max_examples=examples(18))
@given(data=st.data())
def test_the_promises_hold_after_every_step_of_any_history(data):
    def draw(below: int) -> int:
        return data.draw(st.integers(0, below - 1)) if below > 0 else 0

    with undone():
        begin_studio()
        for _ in range(data.draw(st.integers(3, 9))):
            before = row_counts()
            try:
                with transaction.atomic():
                    TURNS[draw(len(TURNS))](draw)
            except Refused as refused:
                assert row_counts() == before, "a refused posting left something"
                assert refused.sentence.endswith(".")
            assert problems() == []
            assert not Holder.objects.filter(quantity__lt=0).exists()
        assert_costs_add_up()
