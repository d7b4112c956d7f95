"""The alloys of the studio."""

from typing import Any

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.filters.studio import InUseFilter
from inventory.forms.alloys import AlloyForm, CompositionFormSet, composition_rows, density_working
from inventory.models import Alloy
from inventory.queries.cautions import melt_cautions
from inventory.tables.studio import AlloyTable
from studio.kit.listing import ListingView
from studio.kit.rows import answer_in_place, asks_for_row, hold_judgement

from .records import NAME_TAKEN
from .saving import alone


class AlloyList(ListingView):
    title = "Alloys"
    lead = "What you cast. The density turns a wax weight into a metal weight; the fineness counts the fine metal."
    queryset = Alloy.objects.all()
    table_class = AlloyTable
    filterset_class = InUseFilter
    press = ("Write down an alloy", "inventory:alloy-new")


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_alloy(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Write down an alloy, or change one."""
    alloys = Alloy.objects.prefetch_related("parts")
    alloy = get_object_or_404(alloys, pk=pk) if pk is not None else None
    title = str(alloy) if alloy else "A new alloy"
    rows = composition_rows(alloy)
    form = AlloyForm(request.POST or None, instance=alloy)
    parts = CompositionFormSet(request.POST or None, prefix="parts", initial=rows)
    in_place = answer_in_place(parts)
    if in_place is not None:
        return in_place
    if request.method == "POST" and asks_for_row(request.POST):
        hold_judgement(form, parts)
    elif request.method == "POST" and _save(form, parts):
        messages.success(request, f"Saved: {form.instance}.")
        return redirect("inventory:alloy-list")
    return render(request, "setup/alloy.html", {"title": title, **_make_context(alloy, form, parts)})


def _save(form: AlloyForm, parts: Any) -> bool:
    # Both are looked at, so that every mistake shows at once.
    are_valid = [form.is_valid(), parts.is_valid()]
    if not all(are_valid) or not form.settle(parts.parts):
        return False
    try:
        form.save_with(parts.parts)
    except IntegrityError:
        form.add_error("name", NAME_TAKEN)
        return False
    return True


def _make_context(alloy: Alloy | None, form: AlloyForm, parts: Any) -> dict[str, Any]:
    stored = {part.element: part.per_10000 for part in alloy.parts.all()} if alloy else {}
    return {
        "object": alloy,
        "form": form,
        "parts": parts,
        "working": density_working(stored),
        "cautions": melt_cautions([alloy.pk]) if alloy else (),
        "list_address": reverse("inventory:alloy-list"),
        "list_label": "Alloys",
        "save_label": "Save",
        "section": "setup",
        "archive_address": reverse("inventory:archive", args=["alloy", alloy.pk]) if alloy else "",
    }
