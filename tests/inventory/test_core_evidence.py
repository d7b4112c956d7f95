"""What goes with failed casts: worked examples, what is too few to tell, and each rule of the record."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from inventory.core.evidence import Finding, Sure, compute_findings, correct_chances, work_correction
from inventory.core.factors import FACTORS, Bounds, Recorded, share_gone_pct, split_casts
from inventory.core.heat import Heats
from inventory.core.odds import Split, compute_chance, compute_odds, print_chance, print_odds
from tests.workings import find_fault

# Worked by hand: of 13 casts 7 failed; 1,716 ways to pick 7 of 13, 176 of them no likelier than 6 and 1.
SEEN = Split(6, 2, 1, 4)
PRINTS = {"with it": Split(6, 2, 1, 4), "plainly": Split(9, 1, 1, 30), "not": Split(1, 10, 6, 6)}


def test_the_exact_chance_of_a_worked_example():
    chance, working = compute_chance(SEEN)
    assert chance == Fraction(176, 1716) == Fraction(4, 39)
    assert abs(chance - Fraction("0.1025641")) < Fraction("0.0000001")
    assert "176 ÷ 1,716" in [step.text for step in working.steps]
    assert working.result.replace("\u00a0", " ") == "10.26 %"


def test_odds_with_an_end_and_without():
    odds = compute_odds(SEEN)
    assert odds.ratio == 12
    assert odds.low < 1 < 12 < (odds.high or 0)
    endless = compute_odds(Split(3, 0, 2, 9))
    assert (endless.ratio, endless.high) == (None, None) and endless.low > 0
    nothing = compute_odds(Split(0, 3, 2, 9))
    assert (nothing.ratio, nothing.low) == (0, 0) and nothing.high
    assert endless.text.startswith("without end (")
    for empty in (Split(0, 0, 3, 5), Split(2, 2, 0, 0), Split(0, 4, 0, 4), Split(4, 0, 4, 0)):
        with pytest.raises(ValueError, match="both kinds"):
            compute_odds(empty)
    with pytest.raises(ValueError, match="no casts"):
        compute_chance(Split(0, 0, 0, 0))


def test_chances_are_corrected_for_looking_at_many():
    """Holm: 0.01, 0.04, 0.03 and 0.005 of four become 0.03, 0.06, 0.06 and 0.02 (the usual textbook example)."""
    chances = [Fraction(one) for one in ("0.01", "0.04", "0.03", "0.005")]
    assert correct_chances(chances) == [Fraction(one) for one in ("0.03", "0.06", "0.06", "0.02")]
    assert correct_chances([Fraction(1, 2), Fraction(3, 4)]) == [1, 1]
    assert correct_chances([]) == []


def test_one_in_twenty_is_still_unlikely():
    """The usual limit, its own value included."""
    more, fewer = Split(4, 2, 3, 20), Split(1, 10, 9, 10)
    at, above = Fraction(1, 20), Fraction(51, 1000)
    assert [
        Finding(more, 3, chance, corrected).sure
        for chance, corrected in ((at, at), (at, above), (above, above))
    ] == [
        Sure.CLEAR,
        Sure.MAYBE,
        Sure.WEAK,
    ]
    assert [Finding(fewer, 3, one, one).sure for one in (at, above)] == [Sure.FEWER, Sure.NO_MORE]
    assert not Finding(Split(1, 3, 2, 6), 3, at, at).is_more, "one in three with it and without"


def test_eight_casts_tell_of_which_one_failed():
    assert Split(1, 3, 0, 4).tells and not Split(1, 2, 0, 4).tells
    assert Finding(Split(0, 0, 3, 5)).sure is Sure.NEVER and Finding(Split(0, 0, 3, 4)).sure is Sure.TOO_FEW


def holm(**chances):
    """The working of Holm's correction, a line for each, of findings with these chances."""
    exact = {name: Fraction(chance) for name, chance in chances.items()}
    corrected = dict(zip(exact, correct_chances([*exact.values()]), strict=True))
    found = {name: Finding(SEEN, len(exact), chance, corrected[name]) for name, chance in exact.items()}
    working = work_correction(found)
    return working and [f"{step.text} = {step.result}".replace("\u00a0", " ") for step in working.steps]


def test_the_correction_can_be_followed_line_by_line():
    """The same textbook example, and two that come to all."""
    assert holm(a="0.01", b="0.04", c="0.03", d="0.005") == [
        "d: 0.5000 % × 4 = 2.00 %",
        "a: 1.0000 % × 3 = 3.00 %",
        "c: 3.0000 % × 2 = 6.00 %",
        "b, 4.0000 % by 1: no less than the one before = 6.00 %",
    ]
    assert holm(a="0.75", b="0.75") == [
        "a, 75.0000 % by 2: no more than all = 100.00 %",
        "b, 75.0000 % by 1: no less than the one before = 100.00 %",
    ]
    assert holm(a="0.5", b="0.6")[0] == "a: 50.0000 % × 2 = 100.00 %"
    assert holm(a="0.5") is None


def test_many_casts_are_told_without_numbers_that_nobody_works_again():
    chance, working = compute_chance(Split(40, 160, 20, 1780))
    assert [(step.text, step.result) for step in working.steps] == [
        ("of all ways in which the failed can fall, no likelier than what was seen", print_chance(chance))
    ]


def test_findings_say_how_sure_they_are_and_every_sum_can_be_worked_again():
    findings = compute_findings(PRINTS | {"few": Split(1, 2, 1, 3), "never": Split(0, 0, 3, 9)})
    assert {name: one.sure for name, one in findings.items()} == {
        "with it": Sure.WEAK,
        "plainly": Sure.CLEAR,
        "not": Sure.NO_MORE,
        "few": Sure.TOO_FEW,
        "never": Sure.NEVER,
    }
    assert {one.looked_at for one in findings.values()} == {3, 0}, "too few do not weigh on the others"
    ranked = sorted(findings, key=lambda name: findings[name].rank)
    assert ranked == ["plainly", "with it", "not", "few", "never"]
    correction = work_correction(findings)
    assert correction is not None and len(correction.steps) == 3
    shown = [correction, *(working for one in findings.values() for working in one.workings)]
    faults = [find_fault(step) for working in shown for step in working.steps]
    assert not any(faults) and faults.count("") >= 6
    assert work_correction({"few": findings["few"]}) is None


def test_what_one_in_many_may_show_by_chance_is_only_maybe():
    seen = Split(4, 2, 3, 20)
    alone, among = compute_findings({"a": seen}), compute_findings({str(n): seen for n in range(9)})
    assert (alone["a"].sure, among["0"].sure) == (Sure.CLEAR, Sure.MAYBE)
    fewer = compute_findings({"a": Split(0, 30, 9, 10)})["a"]
    assert fewer.sure is Sure.FEWER and not fewer.is_more


@pytest.mark.parametrize(
    "split", [Split(1, 3, 1, 2), Split(0, 9, 0, 9), Split(9, 0, 9, 0), Split(4, 6, 0, 0)]
)
def test_too_few_or_all_alike_is_not_reckoned(split):
    [finding] = compute_findings({"it": split}).values()
    assert finding == Finding(split) and finding.sure is Sure.TOO_FEW


def test_figures_are_printed_so_that_nobody_takes_them_for_exact():
    assert print_chance(Fraction(1, 10**6)).replace("\u00a0", " ") == "under 0.01 %"
    assert [print_chance(Fraction(one)).replace("\u00a0", " ") for one in ("0", "0.0001")] == [
        "0.00 %",
        "0.01 %",
    ]
    assert print_chance(None) == "–"
    assert [print_odds(Fraction(one)) for one in ("0", "0.004", "3.456", "34.56", "3456")] == [
        *("0.00", "under 0.01", "3.46", "34.6", "3,456")
    ]
    edges = ("0.01", "9.5", "10", "10.5", "99.5", "100", "100.4", "989999", "990000", "5000000")
    assert [print_odds(Fraction(one)) for one in edges] == [
        *("0.01", "9.50", "10.0", "10.5", "99.5", "100", "100", "989,999", "over 1,000,000", "over 1,000,000")
    ]


HEATS = Heats(pour_least_c=940, pour_most_c=990, flask_least_c=480, flask_most_c=620)
BOUNDS = Bounds(usual_vacuum_tenths=280)
# A cast of which everything was written down, and all of it as it should be.
RIGHT = Recorded(
    heats=HEATS,
    vacuum_tenths=280,
    metal_c=960,
    flask_c=540,
    fired_minutes=700,
    schedule_minutes=700,
    poured_before=0,
    stood_minutes=120,
    standing_minutes=120,
    powder_gone_pct=74,
    powder_spoilt=False,
    charge_mg=80_000,
    fresh_mg=40_000,
    melted=80_000_000,
    crucible_melts=10,
    crucible_life=40,
)
WRONG = {
    "Vacuum low": ({"vacuum_tenths": 251}, {"vacuum_tenths": 252}),
    "Metal too hot or too cool": ({"metal_c": 991}, {"metal_c": 940}),
    "Flask too hot or too cool": ({"flask_c": 479}, {"flask_c": 620}),
    "Firing short": ({"fired_minutes": 664}, {"fired_minutes": 665}),
    "Not the first of its firing": ({"poured_before": 1}, {}),
    "Stood too short": ({"stood_minutes": 89}, {"stood_minutes": 90}),
    "Powder old or spoilt": ({"powder_gone_pct": 75}, {}),
    "Metal melted often": ({"melted": 80_000_001}, {}),
    "Little fresh metal": ({"fresh_mg": 39_999}, {}),
    "Crucible past its life": ({"crucible_melts": 40}, {"crucible_melts": 39}),
    "Crucible new": ({"crucible_melts": 2}, {"crucible_melts": 3}),
}


@pytest.mark.parametrize("factor", FACTORS, ids=lambda one: one.name)
def test_each_factor_parts_casts_by_its_rule_and_nobody_counts_who_was_not_written_down(factor):
    changes, kept = WRONG[factor.name]
    wrong, right = RIGHT._replace(**changes, failed=True), RIGHT._replace(**kept)
    assert factor.holds(wrong, BOUNDS) is True
    assert factor.holds(right, BOUNDS) is False
    assert factor.holds(Recorded(), BOUNDS) is None
    assert split_casts(factor, [wrong, right, right, Recorded(failed=True)], BOUNDS) == Split(1, 0, 0, 2)
    said = [factor.rule(BOUNDS), factor.words(wrong, BOUNDS), factor.advice]
    assert all(said) and not any("caus" in one or "None" in one for one in said)
    others = [one for one in FACTORS if one is not factor and one.holds(wrong, BOUNDS)]
    assert others == []


def test_powder_that_was_damp_counts_though_nobody_knows_how_old_it_is():
    powder = next(one for one in FACTORS if one.name.startswith("Powder"))
    damp = RIGHT._replace(powder_gone_pct=None, powder_spoilt=True)
    assert powder.holds(damp, BOUNDS) and "damp" in powder.words(damp, BOUNDS)
    assert powder.holds(damp._replace(powder_spoilt=False), BOUNDS) is None


def test_how_much_of_the_days_of_powder_is_gone():
    day = date(2026, 3, 1)
    assert share_gone_pct(day, day + timedelta(days=200), day + timedelta(days=150)) == 75
    assert share_gone_pct(day, day, day) == 100
    assert share_gone_pct(day, None, day) is None
