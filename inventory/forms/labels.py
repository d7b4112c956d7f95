"""How label sheets are laid out, and which labels are printed on one."""

from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from inventory.models import LabelSheet
from inventory.queries.setup import in_use
from studio.kit.fields import LengthField, LineField, NumberField
from studio.kit.forms import StudioForm, StudioModelForm
from studio.kit.labels import SMALLEST_LABEL_UM
from studio.kit.printing import print_length
from studio.kit.units import UM_PER_MM

_PAGE_MAX = 1000 * UM_PER_MM
MOST_COPIES = 99
MOST_LABELS = 2000


def _margin(label: str) -> Any:
    return LengthField(label=label, minimum=0, maximum=_PAGE_MAX)


class LabelSheetForm(StudioModelForm):
    name = LineField(label="Name", max_length=60, help_text="What you call it, such as: small, for lots.")
    page_width_um = LengthField(
        label="Width of the sheet",
        minimum=SMALLEST_LABEL_UM,
        maximum=_PAGE_MAX,
    )
    page_height_um = LengthField(label="Height of the sheet", minimum=SMALLEST_LABEL_UM, maximum=_PAGE_MAX)
    columns = NumberField("Labels across", 1, 50)
    rows = NumberField("Labels down", 1, 100)
    label_width_um = LengthField(label="Width of a label", minimum=SMALLEST_LABEL_UM, maximum=_PAGE_MAX)
    label_height_um = LengthField(label="Height of a label", minimum=SMALLEST_LABEL_UM, maximum=_PAGE_MAX)
    left_um = _margin("Margin at the left")
    top_um = _margin("Margin at the top")
    gap_across_um = _margin("Gap between two labels, across")
    gap_down_um = _margin("Gap between two labels, down")

    class Meta:
        model = LabelSheet
        fields = [
            *("name", "page_width_um", "page_height_um", "columns", "rows"),
            *("label_width_um", "label_height_um", "left_um", "top_um", "gap_across_um", "gap_down_um"),
        ]

    def __init__(self, data: Any = None, instance: LabelSheet | None = None, **more: Any) -> None:
        super().__init__(data, instance=instance or LabelSheet(), **more)

    @property
    def pairs(self) -> list[tuple[BoundField, BoundField]]:
        """The fields that stand beside each other: across and down."""
        fields = self.visible_fields()[1:]
        return list(zip(fields[::2], fields[1::2], strict=True))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors:
            shape = LabelSheet(**cleaned).shape
            ways = (("columns", "across"), ("rows", "down"))
            for (field, way), taken, room in zip(ways, shape.taken_um, shape.page_um, strict=True):
                if taken > room:
                    self.add_error(
                        field,
                        f"So many do not fit {way}: with margin and gaps they take {print_length(taken)}, and the"
                        f" sheet has {print_length(room)}.",
                    )
        return cleaned


class LabelsForm(StudioForm):
    """Which of some things get a label; `things` are (key, title). Enter may send it: it changes nothing."""

    marks_optional = False
    enter_goes_on = False

    sheet: Any = forms.ModelChoiceField(None, label="Sheet", empty_label=None)
    first = NumberField(
        "First free label", 1, 5000, "Counted along the rows, from the top left; 1 on a new sheet."
    )
    copies = NumberField("Of each", 1, MOST_COPIES)
    with_price = forms.BooleanField(
        label="Print the price", required=False, help_text="On those for which one is asked."
    )
    pick = forms.MultipleChoiceField(label="Labels for", widget=forms.CheckboxSelectMultiple)

    def __init__(self, data: Any, things: list[tuple[str, str]], has_price: bool) -> None:
        everything = [key for key, _ in things]
        super().__init__(data, initial={"first": 1, "copies": 1, "pick": everything})
        sheets: Any = self.fields["sheet"]
        sheets.queryset = in_use(LabelSheet)
        self.initial["sheet"] = sheets.queryset.first()
        pick: Any = self.fields["pick"]
        pick.choices = things
        if not has_price:
            del self.fields["with_price"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        sheet, first = cleaned.get("sheet"), cleaned.get("first")
        if sheet and first and first > sheet.shape.places:
            self.add_error("first", f"This sheet has {sheet.shape.places} labels. Write a number up to that.")
        if len(cleaned.get("pick", ())) * (cleaned.get("copies") or 1) > MOST_LABELS:
            self.add_error("copies", f"That is more than {MOST_LABELS:,} labels. Write a smaller number.")
        return cleaned
