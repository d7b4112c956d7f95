"""Work and parts from outside: listed, written down, changed, taken out."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from costing.forms.outside import OutsideForm
from costing.models import OutsideWork
from costing.posting.outside import remove_outside, write_outside
from costing.queries.outside import outside_works
from costing.tables.outside import OutsideTable
from inventory.forms.sheet import Sheet
from inventory.views.records import RecordPages
from inventory.views.saving import alone
from studio.kit.models import only_one
from studio.kit.views import or_404


class Outside(RecordPages):
    app, name, folder = "costing", "outside", "pieces/outside/"
    model, form_class, table_class = OutsideWork, OutsideForm, OutsideTable
    filterset_class = None
    title = "Work and parts from outside"
    lead = "Plating, hallmarking, setting, a chain: a sum on each piece, or one bill that pieces share."
    press = ("Write it down", "costing:outside-new")
    ways = (("Pieces", "inventory:piece-list"),)
    new_title = "Work or parts from outside"
    record_template = "costing/outside.html"

    def get_queryset(self) -> Any:
        return outside_works()

    def make_sheet(self, data: Any, record: OutsideWork | None) -> Sheet:
        asked = self.request.GET.get("piece", "")
        chosen = int(asked) if asked.isdecimal() and len(asked) < 10 else None
        return Sheet(OutsideForm(data, instance=record, chosen=chosen))

    def save(self, sheet: Sheet) -> OutsideWork:
        work: OutsideWork = sheet.form.save(commit=False)
        write_outside(work, list(sheet.form.cleaned_data["pieces"]))
        return work

    def describe(self, record: OutsideWork) -> str:
        return str(record).capitalize()

    def read_more(self, record: OutsideWork | None) -> dict[str, Any]:
        return {"remove_address": reverse("costing:outside-remove", args=[record.pk])} if record else {}


@require_POST
@alone
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    remove_outside(or_404(only_one(outside_works().filter(pk=pk)), "There is no such record."))
    messages.success(request, "It is taken out: no piece carries it any more.")
    return redirect("costing:outside-list")
