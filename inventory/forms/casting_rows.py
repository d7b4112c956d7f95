"""The lines of a cast's forms: parts of the tree, powder, portions of the charge, castings on the scale, time."""

from dataclasses import replace
from typing import Any

from inventory.models import Lot, Material
from inventory.posting.casting import Portion, TimeRecord, TreeRecord
from inventory.posting.closing import PieceGroup
from inventory.posting.refusal import Refused
from inventory.queries.casting_choices import split_tin
from inventory.queries.designs import design_named, designs_by_name
from studio.kit.fields import CountField, LineField, MassField, MinutesField, QuantityField
from studio.kit.picks import Options, PickField
from studio.kit.rows import RowForm, RowsFormSet, make_rows

from .bench_time import MOST_MINUTES, TaskField
from .casting_fields import MetalChoice, PatternWeightsField

MOST_IN_ONE_GROUP = 500


class OptionsRow(RowForm):
    """A line whose first field picks one of `options`, read once for all lines."""

    picks = ""

    def __init__(self, *args: Any, options: Options | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.options = options or Options()
        pick = self.fields[self.picks]
        if isinstance(pick, PickField):
            pick.offer(self.options)


class AmountRow(OptionsRow):
    """A line whose quantity is in the unit of what is picked: grams, millilitres or items."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = self._find_unit()
        if unit:
            asked = self.fields["quantity"]
            self.fields["quantity"] = QuantityField(
                unit, minimum=1, label=asked.label, help_text=asked.help_text
            )

    def unit_of(self, record: Any) -> str:
        return str(record.material.unit)

    def _find_unit(self) -> str:
        said = self.data.get(self.add_prefix(self.picks)) if self.is_bound else self.initial.get(self.picks)
        picked = said if isinstance(said, str) else ""
        record = self.options.records.get(picked)
        if record is not None:
            return self.unit_of(record)
        units = {self.unit_of(record) for record in self.options.records.values()}
        return units.pop() if len(units) == 1 else Material.Unit.MASS if not units else ""


class TreeRow(AmountRow):
    picks = "what"
    given = ("what",)

    what = PickField(label="Wax, plastic or resin")
    quantity: Any = LineField(label="How much", max_length=60)


class PowderRow(OptionsRow):
    picks = "lot"
    given = ("lot",)

    lot = PickField(label="Powder")
    mass = MassField(label="Weight", minimum=1)


class ChargeRow(OptionsRow):
    picks = "what"
    given = ("what",)

    what = PickField(label="Metal")
    mass = MassField(label="Weight", minimum=1)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        choice, mass_mg = cleaned.get("what"), cleaned.get("mass")
        if isinstance(choice, MetalChoice) and mass_mg:
            cleaned["portions"], problem = share_choice(choice, mass_mg)
            if problem:
                self.add_error("mass", problem)
        return cleaned


def share_choice(choice: MetalChoice, mass_mg: int) -> tuple[list[tuple[Lot, int]], str]:
    """What each lot of a choice gives, in milligrams; or the sentence that says why it cannot."""
    if not choice.is_tin:
        return [(choice.lots[0], mass_mg)], ""
    return split_tin(choice.lots, mass_mg)


class PieceRow(RowForm):
    given: tuple[str, ...] = ("count",)
    seldom = ("patterns",)

    name = LineField(label="Casting", error_messages={"required": "Write what it is, such as fern stud."})
    count = CountField(label="How many", initial=1, minimum=1, maximum=MOST_IN_ONE_GROUP)
    mass = MassField(label="All weigh", minimum=1)
    patterns = PatternWeightsField(
        label="Weight of each pattern, if they differ",
        required=False,
        help_text="Such as 1.20 + 1.35. Otherwise they share the weight alike.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        count, patterns = cleaned.get("count"), cleaned.get("patterns")
        if count and patterns and len(patterns) != count:
            said = "1 pattern weight" if count == 1 else f"{count} pattern weights, one for each"
            self.add_error("patterns", f"Write {said}, or leave this empty.")
        return cleaned


class NamedPieceRow(PieceRow):
    """Castings that a plan or an earlier cast named: what did not come out has no weight, and is no line."""

    given = ("name", "count")


class TimeRow(RowForm):
    seldom = ("task", "what")

    minutes = MinutesField(label="How long", minimum=1, maximum=MOST_MINUTES)
    task = TaskField()
    what = LineField(label="In your own words", required=False)


class ChargeRows(RowsFormSet):
    def portions(self) -> list[Portion]:
        return [Portion(lot, mass_mg) for row in self.written() for lot, mass_mg in row["portions"]]


class PieceRows(RowsFormSet):
    def groups(self, pattern_material: Material | None = None) -> list[PieceGroup]:
        """Castings of the name of a design are of that design."""
        rows = self.written()
        known = designs_by_name([row["name"] for row in rows])
        return [
            PieceGroup(
                *(row["name"], row["mass"], row["count"], row["patterns"] or (), pattern_material),
                design=design_named(row["name"], known),
            )
            for row in rows
        ]


class TreeRows(RowsFormSet):
    def records(self) -> list[TreeRecord]:
        return [TreeRecord(row["what"].material, row["quantity"], row["what"].lot) for row in self.written()]

    def records_without(self, base_mg: int | None) -> list[TreeRecord]:
        """The same of a tree that was weighed on its base. Raises Refused where it cannot be told what stood on it."""
        records = self.records()
        if not base_mg:
            return records
        if len(records) != 1 or records[0].material.unit != Material.Unit.MASS:
            raise Refused(
                "With the base, write the tree as one part by its weight; or weigh each part without it.",
                "base",
            )
        if records[0].quantity <= base_mg:
            raise Refused("The base weighs as much as the tree on it. Look at both weights again.", "base")
        return [replace(records[0], quantity=records[0].quantity - base_mg)]


class PowderRows(RowsFormSet):
    def portions(self) -> list[Portion]:
        return [Portion(row["lot"], row["mass"]) for row in self.written()]


class TimeRows(RowsFormSet):
    def records(self) -> list[TimeRecord]:
        return [TimeRecord(row["minutes"], row["what"] or "", row["task"]) for row in self.written()]


TREE_WORDS: dict[str, Any] = {"row_word": "Part of the tree", "add_label": "Add another part of the tree"}
POWDER_WORDS: dict[str, Any] = {"row_word": "Powder", "add_label": "Add another lot of powder"}
CHARGE_WORDS: dict[str, Any] = {
    "row_word": "Portion",
    "add_label": "Add a portion",
    "least": 1,
    "nothing_written": "Write at least one portion: which metal, and how much of it went in.",
}
PIECE_WORDS: dict[str, Any] = {"row_word": "Castings", "add_label": "Add castings"}

TreeFormSet = make_rows(TreeRow, TreeRows, **TREE_WORDS)
NeededTreeFormSet = make_rows(
    TreeRow,
    TreeRows,
    **TREE_WORDS,
    least=1,
    nothing_written="Write what the tree is made of and what it weighs.",
)
PowderFormSet = make_rows(PowderRow, PowderRows, **POWDER_WORDS)
NeededPowderFormSet = make_rows(
    PowderRow,
    PowderRows,
    **POWDER_WORDS,
    least=1,
    nothing_written="Write which powder was mixed, and how much of it.",
)
ChargeFormSet = make_rows(ChargeRow, ChargeRows, **CHARGE_WORDS)
PieceFormSet = make_rows(PieceRow, PieceRows, **PIECE_WORDS)
NamedPieceFormSet = make_rows(NamedPieceRow, PieceRows, **PIECE_WORDS)
TimeFormSet = make_rows(TimeRow, TimeRows, row_word="Time", add_label="Add time")
