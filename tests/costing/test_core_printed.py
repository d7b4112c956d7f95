"""The one table of a cast's cost that everything printed is read from."""

from dataclasses import replace

from costing.core.inputs import LINE_LABELS, CastInput, PieceInput, PolicyInput
from costing.core.rollup import GROUPS, compute_cast_cost, compute_printed
from tests.costing.sums import check_beside

UNIT, PENNY = 1_000_000, 10_000
POLICY = PolicyInput(
    normal_loss_pct100=33,
    hourly_rate_micro=26 * UNIT,
    overhead_per_hour_micro=3_333_333,
    consumables_per_cast_micro=UNIT,
    consumables_per_piece_micro=62_500,
)


def cast_of(pieces, lost_micro=6_954_321):
    """So many pieces of 1.234567 of metal each; two hours on the cast, seven minutes on each piece."""
    return CastInput(
        charge_mg=100_000,
        charge_micro=pieces * 1_234_567 + lost_micro,
        lost_mg=2_000,
        lost_micro=lost_micro,
        powder_micro=3_333_333,
        energy_micro=2_718_281,
        wear=(("crucible", 314_159),),
        bench_seconds=120 * 60,
        pieces=tuple(
            PieceInput(
                key=place,
                label=f"bead {place}",
                mass_mg=2_000,
                own_metal_micro=1_234_567,
                bench_seconds=7 * 60,
            )
            for place in range(pieces)
        ),
    )


def test_forty_pieces_do_not_make_a_line_drift():
    """52.00 of bench time is printed as 52.00 and 3.50 of consumables as 3.50, over 40 pieces."""
    cost = compute_cast_cost(cast_of(40), POLICY)
    printed = compute_printed(cost, PENNY)
    assert printed.line("bench_cast").total_micro == 52 * UNIT
    assert printed.line("consumables").total_micro == 3_500_000
    check_beside(cost, printed, PENNY)


def test_of_alike_pieces_none_is_printed_more_than_a_penny_dearer():
    printed = compute_printed(compute_cast_cost(cast_of(40), POLICY), PENNY)
    assert max(printed.piece_totals_micro) - min(printed.piece_totals_micro) <= PENNY


def test_what_was_lost_is_printed_as_the_stock_prints_it():
    for lost_micro in range(6_950_000, 6_960_000, 1_234):
        cost = compute_cast_cost(cast_of(7, lost_micro), POLICY)
        printed = compute_printed(cost, PENNY)
        assert abs(printed.line("lost_metal").total_micro - lost_micro) * 2 <= PENNY
        check_beside(cost, printed, PENNY)


def test_a_line_that_came_to_nothing_is_printed_as_nothing():
    printed = compute_printed(compute_cast_cost(replace(cast_of(7), energy_micro=0), POLICY), PENNY)
    assert set(printed.line("energy").piece_micro) == {0}


def test_a_cast_of_nothing_is_printed():
    cost = compute_cast_cost(CastInput(charge_mg=0, charge_micro=0), PolicyInput())
    printed = compute_printed(cost, PENNY)
    assert (printed.total_micro, printed.groups) == (0, {})


def test_every_line_has_its_place_in_one_group():
    placed = [key for keys in GROUPS.values() for key in keys]
    assert sorted(placed) == sorted(LINE_LABELS)
