"""A planned cast put into the shape of a closed one: its minutes, its pieces, and what is missing on the shelf."""

from dataclasses import replace

import pytest

from costing.core.estimate import (
    PlannedMetal,
    PlannedPart,
    PlannedUse,
    compute_bench_means,
    compute_planned_pieces,
    fill_up,
    share_charge,
    work_planned_metal,
)

STERLING_MG_CM3, WAX_MG_CM3 = 10_360, 960
LEAVES = PlannedPart("Leaf", 3_200, 4, WAX_MG_CM3)


def plain(text):
    return text.replace("\u00a0", " ")


def test_minutes_at_the_bench_are_the_means_of_casts_and_of_pieces():
    means = compute_bench_means(2, 191, 4, 42)
    assert (means.cast_minutes, means.piece_minutes, means.casts, means.note) == (96, 11, 2, "")
    assert plain(means.working.result) == "1 h 36 min and 11 min a piece"
    assert [plain(given.value) for given in means.working.givens] == ["2", "3 h 11 min", "4", "42 min"]
    assert [plain(step.text) for step in means.working.steps] == [
        "a cast: 3 h 11 min ÷ 2",
        "a piece: 42 min ÷ 4",
    ]
    assert means.working.givens[0].origin == "the last 2 closed casts"


def test_no_closed_cast_and_no_minutes_are_told():
    none = compute_bench_means(0, 0, 0, 0)
    assert (none.cast_minutes, none.piece_minutes, none.casts, none.working) == (0, 0, 0, None)
    assert none.note.startswith("No cast is closed yet")
    one = compute_bench_means(1, 0, 0, 0)
    assert one.note.startswith("No time was written down for the last cast,")
    assert one.working.givens[0].origin == "1 closed cast"
    assert compute_bench_means(3, 0, 2, 0).note.startswith("No time was written down for the last 3 casts,")
    assert compute_bench_means(3, 0, 2, 1).note == compute_bench_means(3, 1, 0, 0).note == ""


def test_pieces_take_the_space_of_their_patterns_and_their_minutes():
    pieces = compute_planned_pieces([LEAVES, PlannedPart("Bud", 100, 1, 0)], STERLING_MG_CM3, 7)
    assert [piece.key for piece in pieces] == [0, 1, 2, 3, 4]
    assert [piece.label for piece in pieces] == ["Leaf 1", "Leaf 2", "Leaf 3", "Leaf 4", "Bud"]
    # 3.2 g x 10.36 / 0.96 = 34.533 g; computed.
    assert [piece.mass_mg for piece in pieces] == [8_634, 8_633, 8_633, 8_633, 0]
    assert [piece.pattern_volume_ul for piece in pieces] == [833, 833, 833, 833, None]
    assert {piece.bench_seconds for piece in pieces} == {7}
    assert compute_planned_pieces([LEAVES], STERLING_MG_CM3)[0].bench_seconds == 0


def test_a_pattern_of_the_lightest_density_is_still_known():
    (piece,) = compute_planned_pieces([PlannedPart("Bud", 2, 1, 1)], 3)
    assert (piece.mass_mg, piece.pattern_volume_ul) == (6, 2_000)


@pytest.mark.parametrize(
    ("needed", "planned", "cost_micro", "note"),
    [
        (500, 500, 80, ""),
        (499, 500, 80, ""),
        (501, 500, 80, "0.001 g of grain is not here yet: it is reckoned at what the rest costs."),
        (1_000, 500, 160, "0.50 g of grain is not here yet: it is reckoned at what the rest costs."),
        (500, 0, 0, "No lot of grain is planned, so it costs nothing here."),
        (2, 1, 160, "0.001 g of grain is not here yet: it is reckoned at what the rest costs."),
    ],
)
def test_what_is_missing_costs_what_is_there(needed, planned, cost_micro, note):
    cost, told = fill_up(PlannedUse("grain", needed, planned, 80))
    assert (cost, plain(told)) == (cost_micro, note)


def metal(charge_mg=50_000, loss_mg=466):
    pieces = compute_planned_pieces([LEAVES], STERLING_MG_CM3, 7)
    return PlannedMetal(charge_mg, 50_000_000, loss_mg, pieces, "sterling")


def test_a_charge_is_shared_over_pieces_tin_and_loss_by_mass():
    cast, note = share_charge(metal())
    assert note == ""
    assert (cast.charge_mg, cast.back_mg, cast.lost_mg) == (50_000, 15_001, 466)
    assert [piece.own_metal_micro for piece in cast.pieces] == [8_634_000, 8_633_000, 8_633_000, 8_633_000]
    assert (cast.back_micro, cast.lost_micro) == (15_001_000, 466_000)
    assert [piece.bench_seconds for piece in cast.pieces] == [7, 7, 7, 7]
    assert [piece.pattern_volume_ul for piece in cast.pieces] == [833, 833, 833, 833]
    assert [(piece.key, piece.label) for piece in cast.pieces][:2] == [(0, "Leaf 1"), (1, "Leaf 2")]


def test_a_charge_that_cannot_fill_the_pieces_is_filled_up_at_its_rate():
    cast, note = share_charge(replace(metal(), charge_mg=30_000, charge_micro=30_000_000))
    assert (cast.charge_mg, cast.charge_micro, cast.back_mg) == (34_999, 34_999_000, 0)
    assert plain(note).startswith("4.999 g of sterling is not here yet")


def test_where_the_planned_charge_goes_is_shown():
    working = work_planned_metal(share_charge(metal())[0])
    assert plain(working.result) == "50.00 g for 50.0000"
    assert [(plain(step.text), step.result) for step in working.steps] == [
        ("pieces: 50.0000 × 34.533 g ÷ 50.00 g", "34.5330"),
        ("lost: 50.0000 × 0.466 g ÷ 50.00 g", "0.4660"),
        ("back: 50.0000 × 15.001 g ÷ 50.00 g", "15.0010"),
    ]
    nothing = PlannedMetal(0, 0, 0, (), "sterling")
    assert work_planned_metal(share_charge(nothing)[0]).steps == ()
