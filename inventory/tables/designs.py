"""The table of designs."""

from django_tables2 import A

from inventory.models import Design
from studio.kit.columns import CountColumn, FigureColumn, TextColumn, WordsColumn
from studio.kit.tables import BaseTable


def _from_pattern(design: Design) -> str:
    return str(design.pattern_material or "")


class DesignTable(BaseTable):
    caption = "Designs"

    name = TextColumn("Design", linkify=("inventory:design-detail", [A("pk")]))
    collection = TextColumn("Collection", wide=True)
    alloy = TextColumn("Usually in", wide=True)
    made = CountColumn("Pieces")
    pattern_mg = FigureColumn("Pattern", kind="mass", wide=True)
    cast_mg = FigureColumn("Usually cast", kind="mass", wide=True)
    pattern = WordsColumn("Pattern of", _from_pattern, wide=True)

    class Meta:
        empty_text = (
            "No design yet. With one, castings of its name teach what the next will weigh, take and cost."
        )
