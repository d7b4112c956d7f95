"""The list that is ticked before the pour: the studio writes its own."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from inventory.core.starters import STARTER_CHECKLIST
from inventory.forms.checklist import LINES_MOST, ChecklistForm
from inventory.models import ChecklistItem
from inventory.posting.setup import begin_checklist, order_checklist
from inventory.queries.records import checklist_lines

from .records import RecordPages
from .saving import alone

_STARTERS = tuple((line.text, ChecklistItem.When(line.when).label) for line in STARTER_CHECKLIST)


@require_safe
def show_checklist(request: HttpRequest) -> HttpResponse:
    lines = checklist_lines()[:LINES_MOST]
    context = {"lines": lines, "starters": _STARTERS, "section": "setup", "is_full": len(lines) >= LINES_MOST}
    return render(request, "setup/checklist.html", context)


class ChecklistLines(RecordPages):
    name, folder, model, form_class = "checklist", "setup/checklist/", ChecklistItem, ChecklistForm
    title, new_title = "Checklist before the pour", "A new line of the checklist"
    record_template = "setup/checklist_line.html"

    def describe(self, record: ChecklistItem) -> str:
        return "A line of the checklist"

    @property
    def list_address(self) -> str:
        return reverse("inventory:checklist")


@require_POST
@alone
def begin_with_common(request: HttpRequest) -> HttpResponse:
    """Take in the common lines, where the list is empty."""
    if checklist_lines():
        messages.warning(request, "The list has lines already. Add what is missing by hand.")
    else:
        begin_checklist(STARTER_CHECKLIST)
        messages.success(request, "The list begins with these. Change them to your own words.")
    return redirect("inventory:checklist")


@require_POST
@alone
def move_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a line one place up, or down."""
    lines = checklist_lines()
    here = next((place for place, line in enumerate(lines) if line.pk == pk), None)
    if here is None:
        # Somebody took it out while the page was open.
        messages.warning(request, "That line is no longer in the list.")
        return redirect("inventory:checklist")
    there = here + 1 if "down" in request.POST else here - 1
    if 0 <= there < len(lines):
        lines[here], lines[there] = lines[there], lines[here]
    order_checklist(lines)
    return redirect("inventory:checklist")


@require_POST
@alone
def remove_line(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a line out. What was ticked on a cast stays with the cast in its own words."""
    item = next((line for line in checklist_lines() if line.pk == pk), None)
    if item is not None:
        item.delete()
        messages.success(request, f"Taken out: {item}.")
    return redirect("inventory:checklist")
