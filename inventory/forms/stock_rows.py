"""The lines of a delivery and of opening stock: a material, and how much of it in the material's own unit."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.urls import reverse

from inventory.models import Alloy, Lot, Material
from inventory.queries.setup import find_by_key
from studio.kit.fields import ReadField
from studio.kit.forms import StudioBoundField
from studio.kit.measures import stock_measure
from studio.kit.numerals import Unreadable
from studio.kit.picks import Options, PickField
from studio.kit.rows import RowForm

OLD_METAL_WORDS = {
    Lot.Origin.CLEAN: "buttons and sprues",
    Lot.Origin.SPILL: "spill",
    Lot.Origin.FILINGS: "filings",
    Lot.Origin.SWEEPS: "sweeps",
}
_OLD = "old-"


@dataclass(frozen=True)
class OldMetal:
    """Metal of an alloy that came out of casts before the books began; its material may not be written down yet."""

    alloy: Alloy
    origin: Lot.Origin

    kind = Material.Kind.METAL
    unit = Material.Unit.MASS.value

    def __str__(self) -> str:
        return f"{self.alloy}, {OLD_METAL_WORDS[self.origin]}"

    @property
    def key(self) -> str:
        return f"{_OLD}{self.origin.value}-{self.alloy.pk}"


class MaterialQuantityBoundField(StudioBoundField):
    """Asks for what it understood with the material of its line, and again when another is chosen."""

    def build_widget_attrs(
        self, attrs: dict[str, str | bool], widget: forms.Widget | None = None
    ) -> dict[str, str | bool]:
        attrs = super().build_widget_attrs(attrs, widget)
        material = self.form["material"]
        attrs["hx-get"] = reverse("inventory:quantity-understood")
        attrs["hx-include"] = f"#{material.id_for_label}"
        attrs["hx-trigger"] = f"input changed delay:300ms, change from:#{material.id_for_label}"
        attrs["hx-vals"] = json.dumps(
            {"quantity_field": self.html_name, "material_field": material.html_name}
        )
        return attrs


class MaterialQuantityField(ReadField):
    """How much of a material. The line reads it, since only the line knows the material's unit."""

    kind = "mass"
    inputmode = "text"
    bound_field_class = MaterialQuantityBoundField

    def to_python(self, value: Any) -> Any:
        return (value.strip() or None) if isinstance(value, str) else value


class MaterialQuantityRow(RowForm):
    """A line of a material and how much of it. `materials` are what can be chosen, read once for all lines."""

    material = PickField(label="Material")
    quantity = MaterialQuantityField(
        label="How much",
        error_messages={"required": "Write how much of it there is."},
    )

    def __init__(self, *args: Any, materials: Sequence[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["material"]
        field.offer(offer_materials(materials))

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("quantity")
        if material is not None and typed:
            asked: Any = self.fields["quantity"]
            asked.kind = material.unit
            try:
                cleaned["quantity"] = stock_measure(material.unit).read(typed, minimum=1)
            except Unreadable as refusal:
                self.add_error("quantity", str(refusal))
        return cleaned


def offer_opening(materials: Iterable[Material], alloys: Iterable[Alloy]) -> Options:
    """Materials, and of each alloy what came back from casts: that is never entered as if it were new."""
    options = offer_materials(one for one in materials if one.form != Material.Form.RECLAIM)
    for alloy in alloys:
        for origin in OLD_METAL_WORDS:
            old = OldMetal(alloy, origin)
            options.add(old.key, str(old), old, "Old metal, from earlier casts")
    return options


def find_unit(chosen: str) -> str:
    """The unit in which what has this key is weighed or counted; "" for what is not there."""
    if chosen.startswith(_OLD):
        return OldMetal.unit
    material = find_by_key(Material, chosen)
    return material.unit if material is not None else ""


def offer_materials(materials: Iterable[Material]) -> Options:
    """Materials by their own numbers, under headings of their kinds."""
    options = Options()
    for material in materials:
        kind = material.get_kind_display()
        options.add(str(material.pk), str(material), material, kind[:1].upper() + kind[1:])
    return options
