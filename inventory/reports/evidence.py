"""What goes with failed casts: for each thing in the record how many failed with it and without, and how sure it is."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from inventory.core.evidence import Finding, Sure
from inventory.core.factors import Factor
from inventory.core.odds import print_chance, print_odds
from inventory.models import Studio
from inventory.queries.evidence import FAIL_RULE, Evidence, read_designs, read_evidence
from inventory.queries.studio import current_studio
from studio.kit.chart_intervals import IntervalRow, interval_chart
from studio.kit.chart_pen import KeyEntry, Picture
from studio.kit.documents import (
    Block,
    Column,
    Document,
    Filled,
    Heading,
    Prose,
    Table,
    WorkingBlock,
    fill_table,
)
from studio.kit.reporting import ReportForm, report
from studio.kit.units import PCT100_WHOLE, round_half_up

from .making import make_document

HOW_TO_READ = (
    "Odds are the failed casts for each good one. Told is how many times as great they are with a thing as "
    "without it. That is known to the interval that stands beside it; where that holds 1, the casts may as well "
    "have failed alike. The chance says how often casts part so unevenly by chance alone; of many things looked at "
    "one always seems to tell something, so it is corrected for how many there were. It tells what goes with "
    "failed casts, not what caused them: a single change at a time, and the next casts, tell that."
)
NO_DESIGN = "Casts of which no design is known, by a casting that came out or by a plan, do not count here."


@report(
    "evidence",
    "What goes with failed casts",
    "Vacuum, temperatures, holds, powder and metal: how many casts failed with each and without, and how sure that is.",
    ReportForm,
    place=4,
)
def build_evidence(params: Mapping[str, Any]) -> Document:
    studio = current_studio()
    evidence = read_evidence(studio)
    return document_of(evidence, read_designs(evidence), studio)


def document_of(evidence: Evidence, designs: Mapping[str, Finding], studio: Studio) -> Document:
    told = [(factor, found) for factor, found in evidence.ranked if found.odds is not None]
    blocks: list[Block] = [Prose(say_evidence(evidence))]
    if told:
        named = [(factor.name, found) for factor, found in evidence.ranked]
        blocks += [
            picture_odds(told),
            table_odds("Failed with it and without", "In the record", named),
            *_say_never(evidence),
        ]
    if any(one.odds for one in designs.values()):
        ranked = sorted(designs.items(), key=lambda pair: pair[1].rank)
        blocks.append(
            table_odds(
                "Designs on the most casts, corrected among themselves", "On the tree", ranked, NO_DESIGN
            )
        )
    # Where nothing is reckoned yet there are no odds to read.
    blocks += [*([] if evidence.too_few else [Prose(HOW_TO_READ)]), Prose(FAIL_RULE), table_rules(evidence)]
    correction = evidence.correction
    if told:
        blocks += [Heading("How it was reckoned"), *([WorkingBlock(correction)] if correction else [])]
    blocks += [
        WorkingBlock(replace(working, title=f"{factor.name}: {working.title[:1].lower()}{working.title[1:]}"))
        for factor, found in told
        for working in found.workings
    ]
    return make_document(studio, "What goes with failed casts", blocks, "evidence")


def say_evidence(evidence: Evidence) -> str:
    """All of it in plain sentences."""
    if evidence.too_few:
        return evidence.too_few
    count, failed = len(evidence.casts), evidence.failed
    said = [f"Of {count} casts {failed} failed."]
    by_sure = {
        sure: [one.name.lower() for one, found in evidence.ranked if found.sure is sure] for sure in Sure
    }
    for sure, words in (
        (Sure.CLEAR, "goes with failed casts, hardly by chance"),
        (Sure.MAYBE, "may go with failed casts, but of so many looked at one may seem so by chance"),
    ):
        if by_sure[sure]:
            said.append(f"{_join(by_sure[sure])} {words}.".capitalize())
    if len(said) == 1:
        said.append("Nothing in their records sets the failed ones apart by more than chance may.")
    said += [
        f"{factor.name}: {found.split.failed_with} of {found.split.cases} failed with it, "
        f"{found.split.failed_without} of {found.split.others} without."
        for factor, found in evidence.ranked
        if found.sure in (Sure.CLEAR, Sure.MAYBE)
    ]
    return " ".join(said)


def _join(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def picture_odds(told: Sequence[tuple[Factor, Finding]]) -> Picture:
    rows, figures = [], []
    for factor, found in told:
        odds = found.odds
        if odds is None:
            continue
        role = "lost" if found.sure is Sure.CLEAR else "pieces"
        high = None if odds.high is None else Fraction(odds.high)
        rows.append(IntervalRow(factor.name, odds.text, Fraction(odds.low), odds.ratio, high, role))
        figures.append((factor.name, print_odds(odds.ratio), print_odds(odds.low), print_odds(odds.high)))
    most = rows[0]
    key = [KeyEntry("pieces", "odds with it over odds without, and the interval", "dot")]
    if any(row.role == "lost" for row in rows):
        key.append(KeyEntry("lost", "hardly by chance", "dot"))
    key.append(KeyEntry("quiet", "alike with it and without", "dashes"))
    return interval_chart(
        rows,
        "Odds of failing",
        f"{len(rows)} things in the record; {most.label} {most.text}.",
        key,
        ("In the record", "Odds", "From", "To"),
        tuple(figures),
    )


def _say_never(evidence: Evidence) -> list[Block]:
    """What no cast has in its record stands in a sentence: as rows it would be most of the table."""
    never = [factor.name.lower() for factor, found in evidence.ranked if not found.split.cases]
    return [Prose(f"No cast has this in its record: {_join(never)}.")] if never else []


def table_odds(caption: str, word: str, ranked: Sequence[tuple[str, Finding]], note: str = "") -> Table:
    """Each thing that some cast has, by its name, the surest first."""
    ranked = [pair for pair in ranked if pair[1].split.cases]
    found = [one for _, one in ranked]
    return fill_table(
        caption,
        [
            Filled(Column("factor", word, on_phone=True), [name for name, _ in ranked]),
            Filled(Column("cases", "Casts with it", "count"), [one.split.cases for one in found]),
            Filled(
                Column("failed", "Failed with it", "count", on_phone=True),
                [one.split.failed_with for one in found],
            ),
            Filled(Column("others", "Casts without", "count"), [one.split.others for one in found]),
            Filled(
                Column("others_failed", "Failed without", "count"),
                [one.split.failed_without for one in found],
            ),
            Filled(Column("odds", "Odds"), [one.odds.text if one.odds else "" for one in found]),
            Filled(Column("chance", "By chance", "percent"), [_pct100(one.chance) for one in found]),
            Filled(Column("corrected", "Corrected", "percent"), [_pct100(one.corrected) for one in found]),
            Filled(Column("sure", "What that says", on_phone=True), [one.sure.value for one in found]),
        ],
        note,
    )


def _pct100(chance: Fraction | None) -> int | str | None:
    """What rounds to nothing is said in words: nothing is ever quite ruled out."""
    if chance is None:
        return None
    return round_half_up(chance * PCT100_WHOLE) or print_chance(chance)


def table_rules(evidence: Evidence) -> Table:
    """By which rule casts were split, and how many were left out for want of a reading."""
    findings, whole = evidence.findings, len(evidence.casts)
    return fill_table(
        "By which rules casts were told apart",
        [
            Filled(Column("factor", "In the record"), [one.name for one in findings]),
            Filled(
                Column("rule", "A cast has it", on_phone=True),
                [one.rule(evidence.bounds) for one in findings],
            ),
            Filled(Column("counted", "Counted", "count"), [one.split.count for one in findings.values()]),
            Filled(
                Column("left_out", "No reading", "count"),
                [whole - one.split.count for one in findings.values()],
            ),
        ],
        "Casts of which nobody wrote it down do not count for it.",
    )
