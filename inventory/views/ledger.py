"""The ledger: every entry, the lines of one, its reversal, and the proof that all of it adds up."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.audit import run_audit
from inventory.filters import EntryFilter
from inventory.forms.ledger import ReversalForm
from inventory.forms.sheet import Sheet
from inventory.models import Entry
from inventory.posting.reversal import post_reversal
from inventory.queries.ledger import (
    describe_entry,
    effects_of,
    entries_with_names,
    later_users,
    lines_with_names,
)
from inventory.tables.ledger import EntryTable, LineTable, is_reversed
from studio.kit.listing import ListingView
from studio.kit.tables import lay_out

from .mending import address_of
from .saving import answer, sent, show, signed_in_user

BLOCKERS_SHOWN = 25
PROBLEMS_SHOWN = 50


class Ledger(ListingView):
    title = "Ledger"
    lead = "Everything that moved, newest first. An entry never changes: a mistake is taken back and written anew."
    ways = (("Does everything add up?", "inventory:ledger-audit"),)
    table_class = EntryTable
    filterset_class = EntryFilter

    def get_queryset(self) -> Any:
        return entries_with_names()


@require_safe
def show_entry(request: HttpRequest, pk: int) -> HttpResponse:
    deliveries = ("delivery__supplier", "bill_for__supplier")
    entry = get_object_or_404(entries_with_names().select_related(*deliveries), pk=pk)
    table = lay_out(LineTable(lines_with_names(entry)), request)
    context = {
        "entry": entry,
        "delivery": entry.bill_for or getattr(entry, "delivery", None),
        "table": table,
        "can_reverse": _can_reverse(entry),
        "written_again": entry.replaced_by.values_list("pk", flat=True).first(),
    }
    return render(request, "ledger/entry.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def reverse_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask first, saying what will happen; then post the mirror once, or say what stands in the way."""
    entry = get_object_or_404(entries_with_names(), pk=pk)
    form = ReversalForm(sent(request))
    sheet = Sheet(form)
    done = answer(sheet, lambda: _reverse(entry, form.cleaned_data["note"], request))
    if done is not None:
        return done
    blockers = later_users(entry) if _can_reverse(entry) else []
    table = lay_out(LineTable(lines_with_names(entry), turned=True), request)
    context = {
        "entry": entry,
        "words": describe_entry(entry),
        "table": table,
        "can_reverse": _can_reverse(entry),
        "blockers": [(other.pk, describe_entry(other)) for other in blockers[:BLOCKERS_SHOWN]],
        "more_blockers": max(0, len(blockers) - BLOCKERS_SHOWN),
        "effects": effects_of(entry),
        "reopens": entry.kind == Entry.Kind.CLOSE,
    }
    return show(request, "ledger/reverse.html", sheet, context)


def _reverse(entry: Entry, note: str, request: HttpRequest) -> str:
    back = address_of(entry)
    post_reversal(entry, note, by=signed_in_user(request))
    messages.success(request, f"Taken back: {describe_entry(entry)}.")
    return back


def _can_reverse(entry: Entry) -> bool:
    return entry.reverses_id is None and not is_reversed(entry)


@require_http_methods(["GET", "HEAD", "POST"])
def audit_ledger(request: HttpRequest) -> HttpResponse:
    """Prove the whole ledger. It reads every movement, so it runs only when asked."""
    context: dict[str, Any] = {}
    if request.method == "POST":
        findings = run_audit()
        context["findings"] = [
            (finding, finding.problems[:PROBLEMS_SHOWN], max(0, len(finding.problems) - PROBLEMS_SHOWN))
            for finding in findings
        ]
        context["wrong_count"] = sum(len(finding.problems) for finding in findings)
    return render(request, "ledger/audit.html", context)
