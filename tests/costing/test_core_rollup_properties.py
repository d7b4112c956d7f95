"""Whatever was cast, and whatever the policy: nothing of its cost is lost and nothing is made."""

from hypothesis import given
from hypothesis import strategies as st

from costing.core.inputs import DEFAULT_BASES, Basis, CastInput, PieceInput, PolicyInput
from costing.core.lines import compute_time_cost
from costing.core.rollup import compute_cast_cost, compute_printed
from studio.kit.rounding import round_to_unit
from tests.costing.sums import check_beside

MONEY = st.integers(0, 10**10)
MASS = st.integers(0, 10**6)
MINUTES = st.integers(0, 3_000)


@st.composite
def pieces(draw):
    return PieceInput(
        key=draw(st.integers(1, 99)),
        label="piece",
        mass_mg=draw(MASS),
        own_metal_micro=draw(MONEY),
        pattern_volume_ul=draw(st.none() | st.integers(0, 10**6)),
        bench_seconds=draw(MINUTES),
        other_stock_micro=draw(MONEY),
        is_good=draw(st.booleans()),
    )


@st.composite
def casts(draw):
    parts = tuple(draw(st.lists(pieces(), max_size=7)))
    back_mg, back_micro = draw(MASS), draw(MONEY)
    lost_mg, lost_micro = draw(st.integers(-100, 10**5)), draw(st.integers(-(10**5), 10**9))
    return CastInput(
        charge_mg=max(0, sum(piece.mass_mg for piece in parts) + back_mg + lost_mg),
        charge_micro=sum(piece.own_metal_micro for piece in parts) + back_micro + lost_micro,
        back_mg=back_mg,
        back_micro=back_micro,
        lost_mg=lost_mg,
        lost_micro=lost_micro,
        powder_micro=draw(MONEY),
        pattern_micro=draw(MONEY),
        energy_micro=draw(MONEY),
        wear=tuple(("tool", amount) for amount in draw(st.lists(MONEY, max_size=3))),
        other_stock_micro=draw(MONEY),
        bench_seconds=draw(MINUTES),
        pieces=parts,
        failed=draw(st.booleans()),
    )


@st.composite
def policies(draw):
    return PolicyInput(
        normal_loss_pct100=draw(st.integers(0, 10_000)),
        bases={key: draw(st.sampled_from(Basis)) for key in DEFAULT_BASES},
        hourly_rate_micro=draw(MONEY),
        overhead_per_hour_micro=draw(MONEY),
        consumables_per_cast_micro=draw(MONEY),
        consumables_per_piece_micro=draw(MONEY),
        reclaim_resale_micro_per_kg=draw(st.none() | MONEY),
    )


def _spent(cast, policy):
    """What the cast used up, added without sharing anything."""
    good = 0 if cast.failed else sum(piece.is_good for piece in cast.pieces)
    rates = (policy.hourly_rate_micro, policy.overhead_per_hour_micro)
    minutes = [cast.bench_seconds, *(piece.bench_seconds for piece in cast.pieces)]
    return (
        cast.charge_micro
        - cast.back_micro
        + cast.powder_micro
        + cast.pattern_micro
        + cast.energy_micro
        + sum(amount for _, amount in cast.wear)
        + cast.other_stock_micro
        + sum(piece.other_stock_micro for piece in cast.pieces)
        + policy.consumables_per_cast_micro
        + good * policy.consumables_per_piece_micro
        + sum(compute_time_cost(spell, rate) for spell in minutes for rate in rates)
    )


@given(casts(), policies())
def test_pieces_and_what_was_set_aside_always_make_the_cost_of_the_cast(cast, policy):
    cost = compute_cast_cost(cast, policy)
    assert sum(cost.piece_totals_micro) + cost.set_aside_micro == cost.total_micro
    down = cost.line("reclaim_write_down")
    assert cost.total_micro == _spent(cast, policy) + (down.total_micro if down else 0)


@given(casts(), policies())
def test_every_line_adds_up_by_itself(cast, policy):
    for line in compute_cast_cost(cast, policy).lines:
        assert sum(line.piece_micro) + line.set_aside_micro == line.total_micro
        assert len(line.piece_micro) == len(cast.pieces)


@given(casts(), policies())
def test_no_piece_and_nothing_set_aside_is_below_zero_unless_the_loss_was(cast, policy):
    for line in compute_cast_cost(cast, policy).lines:
        if line.total_micro >= 0:
            assert min((*line.piece_micro, *(aside.amount_micro for aside in line.set_aside)), default=0) >= 0


@given(casts(), policies())
def test_scrapped_pieces_and_failed_casts_charge_no_piece(cast, policy):
    cost = compute_cast_cost(cast, policy)
    for piece, total in zip(cast.pieces, cost.piece_totals_micro, strict=True):
        if cast.failed or not piece.is_good:
            assert total == 0


@given(casts(), policies())
def test_grams_of_normal_and_abnormal_loss_make_the_loss(cast, policy):
    cost = compute_cast_cost(cast, policy)
    assert cost.normal_lost_mg + cost.abnormal_lost_mg == cast.lost_mg
    if cast.good_places:
        assert sum(cost.piece_lost_mg) == cost.normal_lost_mg


@given(casts(), policies(), st.sampled_from([1, 10_000, 1_000_000]))
def test_whatever_is_printed_adds_up_and_stands_beside_its_exact_value(cast, policy, unit):
    cost = compute_cast_cost(cast, policy)
    printed = compute_printed(cost, unit)
    check_beside(cost, printed, unit)
    assert printed.line("lost_metal").total_micro == round_to_unit(cost.line("lost_metal").total_micro, unit)
    assert printed == compute_printed(cost, unit)
