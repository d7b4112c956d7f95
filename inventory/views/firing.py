"""Firings: kiln sessions with one or more flasks in them."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from inventory.filters import FiringFilter
from inventory.forms.firing import FiringForm
from inventory.models import Firing
from inventory.posting.casting_records import strike_out_firing
from inventory.queries.firing import KilnRecords, estimate_firing, firings
from inventory.tables.plans import FiringTable
from studio.kit.printing import print_date

from .records import RecordPages
from .saving import alone


class Firings(RecordPages):
    """No stock moves when one is mended; the cost of its casts follows."""

    name, folder, edit_path = "firing", "firings/", "<whole:pk>/edit/"
    model, form_class, table_class = Firing, FiringForm, FiringTable
    title = "Firings"
    lead = "Each time the kiln ran: how long, how much it used, and which casts were in it."
    press = ("Write down a firing", "inventory:firing-new")
    filterset_class = FiringFilter
    totals = {"minutes": "minutes"}
    new_title = "A new firing"
    record_template = "firing/edit.html"

    def get_queryset(self) -> Any:
        return firings()

    def describe(self, record: Firing) -> str:
        return f"Firing of {print_date(record.day)}"

    def describe_saved(self, record: Firing) -> str:
        return "Saved."

    def find_way_back(self, record: Firing | None) -> tuple[str, str]:
        return (self.find_way_on(record) if record else self.list_address), self.title

    def find_way_on(self, record: Firing) -> str:
        return reverse("inventory:firing-detail", args=[record.pk])


@require_safe
def show_firing(request: HttpRequest, pk: int) -> HttpResponse:
    firing = get_object_or_404(firings(), pk=pk)
    casts = firing.casts.select_related("alloy", "flask").order_by("number")
    records = KilnRecords([firing.kiln_id], firing.day, firing.day)
    estimate = estimate_firing(firing)
    context = {
        "firing": firing,
        "energy": records.energy_of(firing),
        "is_metered": firing.meter_before_wh is not None and firing.meter_after_wh is not None,
        "estimate": None if estimate.problem else estimate,
        # Its own reading counts too, so that the page of the newest firing tells how the kiln stands today.
        "correction": records.correction(firing.kiln_id, (firing.day, firing.pk + 1)),
        "casts": casts,
    }
    return render(request, "firing/firing.html", context)


@require_POST
@alone
def remove_firing(request: HttpRequest, pk: int) -> HttpResponse:
    """Strike out a firing written down by mistake, while no cast is in it."""
    firing = get_object_or_404(Firing, pk=pk)
    if firing.casts.exists():
        messages.warning(request, "Casts are in this firing. Untick them first, then take it out.")
        return redirect("inventory:firing-edit", pk)
    strike_out_firing(firing)
    messages.success(request, "The firing is taken out.")
    return redirect("inventory:firing-list")
