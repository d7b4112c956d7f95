"""The form of a design: what it is a copy of, what it weighs and takes, and how long it is worked on."""

from typing import Any

from inventory.models import Alloy, Design, Material
from inventory.queries.designs import design_materials
from inventory.queries.setup import in_use
from studio.kit.fields import CountField, LengthField, LineField, MassField, MinutesField, NoteField
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.picks import PickField
from studio.kit.rows import RowForm, make_rows
from studio.kit.units import UM_PER_MM

from .bench_time import MOST_MINUTES, TaskField
from .casting_fields import offer_records
from .casting_rows import AmountRow
from .sheet import Sheet

LARGEST_MG = 100_000_000


class DesignForm(StudioModelForm):
    """Every mass may stay empty: it is learnt from the pieces."""

    marks_optional = False
    name = LineField(
        label="Name",
        max_length=100,
        help_text="As you call its castings, such as Fern stud: they find it by name.",
    )
    collection = LineField(label="Collection", required=False, max_length=60)
    pattern_mg = MassField(label="Its pattern weighs", required=False, minimum=1, maximum=LARGEST_MG)
    cast_mg = MassField(label="As cast", required=False, minimum=1, maximum=LARGEST_MG)
    finished_mg = MassField(label="Finished", required=False, minimum=1, maximum=LARGEST_MG)
    height_um = LengthField(
        label="Its pattern is high",
        required=False,
        minimum=UM_PER_MM,
        maximum=1000 * UM_PER_MM,
        help_text="As it stands on the tree, so that it is put in no flask that is too low.",
    )
    note = NoteField(label="Notes", required=False)

    class Meta:
        model = Design
        fields = [
            *("name", "collection", "alloy", "pattern_material", "pattern_mg"),
            *("cast_mg", "finished_mg", "height_um", "note"),
        ]
        labels = {"alloy": "Usually cast in", "pattern_material": "Pattern made of"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        design = self.instance
        fields["alloy"].queryset = in_use(Alloy, design.alloy_id)
        fields["alloy"].empty_label = "not said"
        fields["pattern_material"].queryset = in_use(
            Material, design.pattern_material_id, kind=Material.Kind.PATTERN, unit=Material.Unit.MASS
        )
        fields["pattern_material"].empty_label = "not said"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cast_mg, finished_mg = cleaned.get("cast_mg"), cleaned.get("finished_mg")
        if cast_mg and finished_mg and finished_mg > cast_mg:
            self.add_error(
                "finished_mg", "It cannot weigh more finished than as cast, without findings and stones."
            )
        return cleaned


class TakesRow(AmountRow):
    """What each piece takes besides its metal."""

    picks = "what"
    given = ("what",)

    what = PickField(label="Finding, stone or box")
    quantity: Any = LineField(label="How much for one", max_length=60)

    def unit_of(self, record: Material) -> str:
        return record.unit


class TaskRow(RowForm):
    given = ("pieces", "task")

    task = TaskField()
    minutes = MinutesField(label="Takes", minimum=1, maximum=MOST_MINUTES)
    pieces = CountField(label="For how many pieces", initial=1, minimum=1, maximum=500)


class PieceDesignForm(OnceMixin, StudioForm):
    """Which design a piece is of; empty for none."""

    design = PickField(label="Design", required=False)

    def __init__(self, *args: Any, design: Design | None, **kwargs: Any) -> None:
        super().__init__(*args, initial={"design": design}, **kwargs)
        offered = in_use(Design, design.pk if design else None)
        self.fields["design"].offer(offer_records(offered, "of none"))  # type: ignore[attr-defined]  # a pick


TakesFormSet = make_rows(TakesRow, row_word="Part", add_label="Add another part")
TimesFormSet = make_rows(TaskRow, row_word="Task", add_label="Add a task")


class DesignSheet(Sheet):
    def __init__(self, data: Any = None, design: Design | None = None) -> None:
        materials = list(design_materials())
        parts = list(design.parts.select_related("material")) if design else []
        offered = [*materials, *(one.material for one in parts if one.material not in materials)]
        takes = TakesFormSet(
            data,
            prefix="takes",
            initial=[{"what": one.material, "quantity": one.quantity} for one in parts],
            form_kwargs={"options": offer_records(offered, "Choose")},
        )
        times = TimesFormSet(
            data,
            prefix="times",
            initial=[
                {"task": one.task, "minutes": one.minutes, "pieces": one.pieces}
                for one in (design.times.all() if design else [])
            ],
        )
        super().__init__(DesignForm(data, instance=design), takes=takes, times=times)

    def takes(self) -> list[tuple[Material, int]]:
        return [(row["what"], row["quantity"]) for row in self.rows["takes"].written()]

    def times(self) -> list[tuple[str, str, int, int]]:
        return [(row["task"], "", row["minutes"], row["pieces"] or 1) for row in self.rows["times"].written()]
