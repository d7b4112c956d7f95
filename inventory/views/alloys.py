"""The alloys of the studio."""

from typing import Any

from inventory.forms.alloys import AlloyForm, AlloySheet, density_working
from inventory.models import Alloy
from inventory.posting.setup import write_composition
from inventory.queries.cautions import melt_cautions
from inventory.tables.studio import AlloyTable

from .records import RecordPages


class Alloys(RecordPages):
    name, folder = "alloy", "setup/alloys/"
    model, form_class, table_class = Alloy, AlloyForm, AlloyTable
    title = "Alloys"
    lead = "What you cast. The density turns a wax weight into a metal weight; the fineness counts the fine metal."
    press = ("Write down an alloy", "inventory:alloy-new")
    new_title = "A new alloy"
    record_template = "setup/alloy.html"

    def make_sheet(self, data: Any, record: Alloy | None) -> AlloySheet:
        return AlloySheet(data, record)

    def save(self, sheet: Any) -> Alloy:
        alloy: Alloy = sheet.form.save()
        write_composition(alloy, sheet.rows["parts"].parts)
        return alloy

    def read_more(self, record: Alloy | None) -> dict[str, Any]:
        if record is None:
            return {"working": None, "cautions": ()}
        stored = {part.element: part.per_10000 for part in record.parts.all()}
        return {"working": density_working(stored), "cautions": melt_cautions([record.pk])}
