"""Rows that postings read and make without the ORM are what the ORM makes of them."""

from typing import Any

import pytest
from django.db import connection
from django.db.models import Model
from django.test.utils import CaptureQueriesContext

from inventory.models import Alloy, Cast, Entry, Holder, Lot, Material, Piece, Plan, Studio
from inventory.posting.locking import bring_up_to_date
from inventory.posting.writing import blank
from inventory.queries.plain import plain_rows, row_of, rows_by_key
from studio.kit.working import Setting, Source
from tests import workshop as w
from tests.inventory.plans import plan, stock

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]


def values_of(row: Model) -> dict[str, Any]:
    return {name: (type(value), value) for name, value in vars(row).items() if name != "_state"}


@pytest.mark.parametrize("model", [Alloy, Cast, Entry, Holder, Lot, Material, Piece])
def test_a_blank_row_is_what_the_model_makes(model: type[Model]) -> None:
    row = blank(model)
    assert values_of(row) == values_of(model())
    assert row._state.adding
    row.__dict__["id"] = 5
    assert blank(model).pk is None


@pytest.mark.parametrize(
    ("model", "along"),
    [
        (Lot, ("holder", "material__alloy", "owner")),
        (Piece, ("holder", "cast__crucible_holder", "cast__alloy")),
        (Cast, ("crucible_holder", "alloy")),
        (Material, ("alloy",)),
    ],
)
def test_what_is_read_along_is_what_the_database_says(model: type[Model], along: tuple[str, ...]) -> None:
    silver, mould = w.buy(w.grain(), w.g(100), 130, use_by=w.DAY), w.buy(w.powder(), w.g(500), 4)
    pieces = [w.piece("Leaf", 20), w.piece("Stud", 9)]
    w.cast_metal([(silver, 60)], pieces, back=30, powder=[w.Portion(mould, w.g(100))])
    theirs = list(model._default_manager.select_related(*along).order_by("pk"))
    ours = rows_by_key(model, [row.pk for row in theirs], along)
    with CaptureQueriesContext(connection) as asked:
        for row in theirs:
            mine: Any = ours[row.pk]
            assert values_of(mine) == values_of(row)
            assert (mine._state.adding, mine._state.db) == (False, row._state.db)
            for path in along:
                their_end, my_end = row, mine
                for name in path.split("__"):
                    their_end, my_end = getattr(their_end, name), getattr(my_end, name)
                    if their_end is None:
                        assert my_end is None
                        break
                    assert values_of(my_end) == values_of(their_end)
    assert len(asked) == 0


def test_the_other_end_of_a_relation_is_read_too_and_asked_for_no_more_where_there_is_none() -> None:
    silver = w.buy(w.grain(), w.g(100), 130, use_by=w.DAY)
    planned, other = (w.cast_metal([(silver, 20)], [w.piece("Leaf", 9)], back=10) for _ in range(2))
    stock()
    planned_as = plan()
    Plan.objects.filter(pk=planned_as.pk).update(cast=planned)
    with CaptureQueriesContext(connection) as asked:
        found = row_of(Cast, planned.number, ("plan",), "number")
        assert found is not None and found.plan == planned_as and found.plan.cast is found
        none = row_of(Cast, other.number, ("plan",), "number")
        assert none is not None and not hasattr(none, "plan")
        assert row_of(Cast, 0, ("plan",), "number") is None
    assert len(asked) == 3


def test_what_hangs_on_the_same_row_shares_it_and_a_holder_knows_whose_it_is() -> None:
    lots = [w.buy(w.grain(), w.g(10), 13) for _ in range(2)]
    first, second = rows_by_key(Lot, [lot.pk for lot in lots], ("holder", "material__alloy")).values()
    assert first.material is second.material
    assert first.holder is not second.holder
    assert vars(first.holder._state)["fields_cache"]["lot"] is first


def test_a_studio_read_plainly_still_says_which_figures_are_its_own() -> None:
    Studio.objects.update(trusted_days=12)
    studio = plain_rows(Studio, "ORDER BY id")[0]
    assert isinstance(studio.trusted_days, Setting)
    assert studio.trusted_days.origin == Source.OWN_SETTING
    assert studio.least_fresh_pct100.origin == Source.STARTING
    assert values_of(studio) == values_of(Studio.objects.get())


def test_a_row_brought_up_to_date_keeps_what_still_hangs_on_it_and_lets_go_of_the_rest() -> None:
    lot = Lot.objects.select_related("supplier", "material", "holder", "owner").get(
        pk=w.buy(w.grain(), w.g(10), 13).pk
    )
    supplier, other = lot.supplier, w.grain(w.bronze())
    Lot.objects.filter(pk=lot.pk).update(owner=w.customer(), material=other, note="moved")
    bring_up_to_date([lot])
    assert lot.note == "moved"
    assert lot.supplier is supplier
    assert lot.owner == w.customer()
    assert lot.material == other
    assert lot.material.alloy == w.bronze()


@pytest.mark.counts
def test_a_whole_cast_is_posted_in_a_fixed_handful_of_statements() -> None:
    silver, mould = w.buy(w.grain(), w.g(300), 390), w.buy(w.powder(), w.g(500), 4)
    sterling = w.sterling()
    w.cast_metal([(silver, 60)], [w.piece("Leaf", 20)], back=30, alloy=sterling)

    def statements(names: list[str]) -> int:
        pieces = [w.piece(name, 9) for name in names]
        with CaptureQueriesContext(connection) as asked:
            w.cast_metal([(silver, 60)], pieces, 30, alloy=sterling, powder=[w.Portion(mould, w.g(90))])
        return sum("SAVEPOINT" not in query["sql"] for query in asked)

    assert statements(["Leaf"]) == statements(["Leaf", "Stud"]) == 14
