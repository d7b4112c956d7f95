"""Where the grams go: losses, yields and what a scale can show, against outside figures."""

from decimal import Decimal
from fractions import Fraction

import pytest

from costing.core.inputs import CastInput, PieceInput, PolicyInput
from costing.core.lines import compute_normal_loss
from costing.core.returned import Melts, compute_at_issue_cost, compute_at_resale, compute_process_account
from costing.core.rollup import compute_cast_cost
from inventory.core.refiners_paper import compute_settlement
from inventory.core.refining import Charges, Melt, Terms, compute_charge
from inventory.core.weighing import (
    Verdict,
    compute_balance,
    compute_share_pct100,
    compute_weighing_uncertainty,
)
from studio.kit.measures import MASS
from studio.kit.printing import print_money
from studio.kit.units import round_half_up


def test_a_tenth_is_lost_in_working_and_a_quarter_of_that_is_never_recovered():
    """Gee, The Silversmith's Handbook; read: 1000 g -> 100 g -> 75 g back, 25 g gone, about 2.5 %."""
    balance = compute_balance(1_000_000, 900_000, 0, 75_000, compute_weighing_uncertainty(10, 4))
    assert balance.lost_mg == 25_000
    assert balance.lost_of_charge_pct100 == 250


@pytest.mark.parametrize(("allowed_pct100", "allowed_mg"), [(15, 1_500), (10, 1_000)])
def test_the_wastage_a_mint_allowed(allowed_pct100, allowed_mg):
    """US Coinage Act of 1873; read: 0.15 % of silver, 0.10 % of gold. Only the shares are the Act's.

    The kilogram and the 2 g lost of it are ours: that a share of 1 kg is so many grams is arithmetic.
    """
    assert compute_normal_loss(1_000_000, 2_000, allowed_pct100) == (allowed_mg, 2_000 - allowed_mg)


# One cast, grams; computed, invented inputs:
# charge 180.00 = finished 82.60 + button and sprue 92.70 + filings caught 3.35 + not recovered 1.35.
SCALE = compute_weighing_uncertainty(10, 5)


def test_one_cast_in_grams_as_finished():
    balance = compute_balance(180_000, 82_600, 92_700, 3_350, SCALE)
    assert balance.lost_mg == 1_350
    assert balance.lost_of_charge_pct100 == 75  # 0.750 %
    assert compute_share_pct100(balance.lost_mg, balance.pieces_mg) == 163  # 1.634 %, shown to two decimals
    assert balance.verdict is Verdict.LOST


def test_one_cast_in_grams_as_cast():
    balance = compute_balance(180_000, 86_100, 92_700, 0, SCALE)
    assert balance.yield_pct100 == 4_783  # 86.10 / 180 = 47.83 %


# Six weighings, each known to 0.01 g (rectangular): computed; method NIST TN 1297, GUM.
SIX = compute_weighing_uncertainty(10, 6)


def test_uncertainty_of_six_weighings():
    assert round(SIX.standard_mg / 1000, 6) == Decimal("0.014142")
    assert round(SIX.expanded_mg / 1000, 4) == Decimal("0.0283")


def test_a_loss_of_three_quarters_of_a_gram_is_real():
    """100.00 - 12.41 - 11.98 - 13.05 - 61.80 = 0.76 g."""
    balance = compute_balance(100_000, 12_410 + 11_980 + 13_050, 61_800, 0, SIX)
    assert balance.lost_mg == 760
    assert balance.verdict is Verdict.LOST


def test_a_loss_of_two_hundredths_is_not_shown():
    balance = compute_balance(100_000, 37_440, 62_540, 0, SIX)
    assert balance.lost_mg == 20
    assert balance.verdict is Verdict.BALANCED


# Process account, input 1,000 kg costing 20,700, normal loss 10 %: ACCA F2 workbook, ch. 9; read.
UNIT = 1_000_000


def _roll_up(charge_mg, charge_micro, good_mg, back_mg, **policy):
    """A melt as a cast of one piece that shows nothing but its metal; what is missing is lost."""
    back_micro = round(Fraction(charge_micro * back_mg, charge_mg))
    own_micro = round(Fraction(charge_micro * good_mg, charge_mg))
    cast = CastInput(
        charge_mg=charge_mg,
        charge_micro=charge_micro,
        back_mg=back_mg,
        back_micro=back_micro,
        lost_mg=charge_mg - good_mg - back_mg,
        lost_micro=charge_micro - back_micro - own_micro,
        pieces=(PieceInput(key=1, label="good", mass_mg=good_mg, own_metal_micro=own_micro),),
    )
    return compute_cast_cost(cast, PolicyInput(**policy))


def _process(good_kg, back_kg, **policy):
    return _roll_up(1_000 * UNIT, 20_700 * UNIT, good_kg * UNIT, back_kg * UNIT, **policy)


def test_process_account_with_scrap_worth_nothing():
    """ACCA F2 workbook, ch. 9; read: 23.00/kg."""
    cost = _process(900, 0, normal_loss_pct100=1_000)
    assert cost.piece_totals_micro == (900 * 23 * UNIT,)
    assert cost.set_aside == ()


# The workbook's scrap is metal that comes back here, written down to what it sells for.
SCRAP_SOLD = {"reclaim_resale_micro_per_kg": 1_800_000}


def test_process_account_with_scrap_at_one_eighty():
    """ACCA F2 workbook, ch. 9; read: (20,700 - 180)/900 = 22.80/kg; good 20,520, scrap 180."""
    cost = _process(900, 100, **SCRAP_SOLD)
    assert cost.piece_totals_micro == (20_520 * UNIT,)
    assert cost.set_aside == ()


def test_an_abnormal_loss_costs_what_good_output_costs():
    """The same account with 20 kg more lost than that; computed: 20 x 22.80 = 456."""
    cost = _process(880, 100, **SCRAP_SOLD)
    assert [(aside.key, aside.amount_micro) for aside in cost.set_aside] == [("abnormal_loss", 456 * UNIT)]
    assert cost.piece_totals_micro == (880 * 22_800_000,)


def test_output_above_normal_is_charged_what_was_spent_and_cites_no_process_account():
    """The same account with 920 kg out: ACCA F2 (ch. 9; read) charges 920 at 22.80 and books a gain of 20 at 22.80.

    A studio's pieces cost what was spent on them: (20,700 - 144)/920 = 22.34/kg here, so the account is not the source.
    """
    less = _process(920, 80, normal_loss_pct100=1_000, **SCRAP_SOLD)
    assert less.piece_totals_micro == (20_556 * UNIT,)
    assert less.set_aside == ()
    line = less.line("lost_metal")
    assert "ACCA" not in line.working.source
    assert "A process account would book a gain" in " ".join(line.working.notes)
    more = _process(880, 0, normal_loss_pct100=1_000)
    assert "ACCA" in more.line("lost_metal").working.source


# One melt, three policies for the returned sprue: issue 130 g costing 107.00, 60 g sprue back, 68 g pieces,
# 2 g lost; computed, invented inputs; IAS 2 para. 14 and 16 for the rules (memory).
def _melt(normal_loss_pct100=10_000, **policy):
    return _roll_up(
        130_000, 107_000_000, 68_000, 60_000, normal_loss_pct100=normal_loss_pct100, **policy
    ).piece_totals_micro[0]


SPRUE_SOLD = {"reclaim_resale_micro_per_kg": 750_000_000}


def test_sprue_returned_at_issue_cost():
    """0.847285 a gram."""
    assert _melt() == 57_615_385
    assert round(Fraction(_melt(), 68)) == 847_285


def test_sprue_credited_at_a_resale_value():
    """0.911765 a gram."""
    assert _melt(**SPRUE_SOLD) == 62_000_000
    assert round(Fraction(_melt(**SPRUE_SOLD), 68)) == 911_765


def test_sprue_credited_at_a_resale_value_with_a_normal_loss_of_one_per_cent():
    """0.7 g beyond normal, 0.631732 of the 62.00."""
    assert _melt(normal_loss_pct100=100, **SPRUE_SOLD) == 61_368_268


def test_a_refiners_settlement_on_published_terms():
    """Received 40 ozt, melts to 39.4, assays 921, pays 95 % at 30 per ozt, charge the larger of 75 and 0.30 per ozt.

    Computed by hand on published terms: payable 34.473 ozt, 1034.19 - 75 = 959.19.
    """
    ounce = MASS.factors["ozt"]
    received_mg, melted_mg = (round_half_up(ounce * ounces) for ounces in (40, Decimal("39.4")))
    terms = Terms(9_500, 75_000_000, (300_000, "ozt"))
    charges = Charges(compute_charge(terms, received_mg))
    found = compute_settlement(Melt(received_mg, melted_mg, 92_100), 9_500, charges, (30_000_000, "ozt"))
    assert round(Decimal(found.payable_ug) / (ounce * 1000), 3) == Decimal("34.473")
    assert print_money(found.worth_micro) == "1,034.19"
    assert charges.total_micro == 75_000_000
    assert print_money(found.money_micro) == found.working.result == "959.19"


MELT = Melts(issued_mg=130_000, issued_micro=107_000_000, back_mg=60_000, pieces_mg=68_000)


def test_the_three_policies_side_by_side_as_the_report_shows_them():
    """The same melt: 49.384615 back and 57.615385 on the pieces; 62.00; 61.368268 with 0.631732 abnormal."""
    at_cost = compute_at_issue_cost(MELT)
    resale, normal = compute_at_resale(MELT, 750_000_000), compute_at_resale(MELT, 750_000_000, 100)
    assert (at_cost.back_micro, at_cost.pieces_micro) == (49_384_615, 57_615_385)
    assert (resale.pieces_micro, resale.abnormal_micro) == (62_000_000, 0)
    assert (normal.pieces_micro, normal.abnormal_micro) == (61_368_268, 631_732)
    assert [one.per_g_micro(68_000) for one in (at_cost, resale)] == [847_285, 911_765]


@pytest.mark.parametrize(("out_kg", "abnormal_kg"), [(900, 0), (880, 20), (920, -20)])
def test_output_above_normal_is_an_abnormal_gain_at_the_price_of_good_output(out_kg, abnormal_kg):
    """ACCA F2 workbook, ch. 9; read: (20,700 - 180)/900 = 22.80 a kilogram, whatever came out."""
    account = compute_process_account(1_000 * UNIT, 20_700 * UNIT, out_kg * UNIT, 1_000, 1_800_000)
    assert account.per_kg_micro == 22_800_000
    assert account.abnormal_mg == abnormal_kg * UNIT
    assert account.abnormal_micro == abnormal_kg * 22_800_000
    words = ("abnormal loss", "nothing abnormal", "abnormal gain")
    assert account.working.steps[-1].text.startswith(words[1 - (abnormal_kg > 0) + (abnormal_kg < 0)])


def test_a_normal_loss_of_all_leaves_nothing_to_carry_the_cost():
    with pytest.raises(ValueError, match="leaves nothing"):
        compute_process_account(UNIT, UNIT, 0, 10_000)
