"""A document with one of every block, for the tests of paper, page and files."""

from datetime import date
from typing import Any

from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.charts import gram_bar
from studio.kit.documents import Block, Column, Document, Facts, Heading, Prose, Table, WorkingBlock
from studio.kit.working import Given, Step, Working

METAL = Working(
    title="Metal in the pieces",
    formula="cost of the charge x mass of the pieces / mass of the charge",
    givens=(
        Given("Charge", "180.00\u00a0g", "cast 40"),
        Given("Cost of the charge", "150.27", "lots 17 and 22"),
    ),
    steps=(Step("150.27 x 86.10 g / 180.00 g", "71.88"),),
    result="71.88",
    source="common practice",
    notes=("Rounded once, at the end.",),
)

PIECES = Table(
    caption="What each piece cost",
    columns=(
        Column("piece", "Piece"),
        Column("day", "Weighed", "day"),
        Column("mass", "Mass", "mass"),
        Column("fine", "Silver", "fine"),
        Column("cost", "Cost", "money"),
        Column("share", "Share", "percent"),
        Column("time", "Time", "minutes"),
        Column("castings", "Castings", "count", unit="pcs"),
    ),
    rows=(
        ("Fern stud", date(2026, 11, 21), 7_420, 6_863_500, 12_174_321, 1050, 95, 2),
        ("Seed pod", date(2026, 11, 22), 1_058_900, 979_482_500, 1_079_600_000, None, 450, 1_234),
    ),
    totals=("Cast", None, 1_066_320, 986_346_000, 1_091_774_321, None, 545, 1_236),
    note="Shares add up to the cost of the cast.",
)


def make_document(*blocks: Block, **changes: Any) -> Document:
    """A document of these blocks; `changes` overrides its other fields."""
    fields: dict[str, Any] = {
        "title": "Cost of cast 40",
        "subtitle": "Fern studs and a seed pod",
        "studio": "Alder Yard studio",
        "made_on": date(2026, 11, 26),
        "period_text": "21 November 2026",
        "blocks": blocks,
        "filename": "cast-40-cost",
        "currency": "GBP",
    }
    return Document(**(fields | changes))


def make_full_document() -> Document:
    """One of every block."""
    return make_document(
        Heading("Where it went"),
        Prose("The loss is within the limit."),
        Facts((("Flask", "3 of firing 28"),)),
        gram_bar(86_100, 92_700, 450, 750),
        loss_chart([LossPoint("Cast 39", 190, "spill noted"), LossPoint("Cast 40", 58)], 124, 150),
        PIECES,
        WorkingBlock(METAL),
    )
