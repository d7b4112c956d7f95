"""Refiners, batches that are sent to them, their settlements, and what comes back."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.core.ledger import Amount, total_of
from inventory.core.refining import Estimate, compute_estimate
from inventory.core.settling import split_return
from inventory.filters import BatchFilter, WordsInUseFilter
from inventory.forms.refiners import RefinerForm, name_metal
from inventory.forms.refining import (
    SendForm,
    SentBackForm,
    SettleSheet,
    read_paper,
    settle_sheet,
)
from inventory.forms.sheet import Sheet
from inventory.models import Alloy, Batch, Lot, Refiner
from inventory.models.refining import is_by_weight
from inventory.posting.refining import post_send, post_sent_back, post_settle, sum_settled
from inventory.posting.refusal import Refused
from inventory.queries.refining import (
    MOST_OFFERED,
    amounts_sent,
    batches,
    find_batch,
    metals_to_send,
    outcomes_of,
    refiners_with_batches,
    returns_of,
    sendable_lots,
    terms_of,
)
from inventory.reports.refining import estimate_of, table_compared, table_outcome
from inventory.tables.refining import (
    BatchTable,
    InBatchTable,
    RefinerTable,
    batch_rows,
    describe_batch,
)
from studio.kit.listing import ListingView
from studio.kit.report_page import lay_table
from studio.kit.tables import lay_out
from studio.kit.views import or_404

from .records import RecordPages
from .saving import answer, sent, show, signed_in_user, with_way_back

_LONGEST_KEY = 12


class Refiners(RecordPages):
    name, folder = "refiner", "setup/refiners/"
    model, form_class, table_class = Refiner, RefinerForm, RefinerTable
    filterset_class = WordsInUseFilter
    title = "Refiners"
    lead = "To whom scrap, filings and sweeps go, and on what terms."
    press = ("Write down a refiner", "inventory:refiner-new")
    new_title = "A new refiner"
    record_template = "refining/refiner.html"

    def get_queryset(self) -> "QuerySet[Refiner]":
        return refiners_with_batches()

    def read_more(self, record: Refiner | None) -> dict[str, Any]:
        return {"terms": terms_of(record) if record is not None else []}


class BatchList(ListingView):
    title = "At the refiner"
    lead = "Metal that was sent to be refined. It stays yours until it is settled."
    table_class = BatchTable
    filterset_class = BatchFilter
    press = ("Send a batch", "inventory:batch-new")
    ways = (("Refiners and their terms", "inventory:refiner-list"),)

    def get_queryset(self) -> "QuerySet[Batch]":
        return batches()


def _offer(request: HttpRequest) -> tuple[str, int | None, list[Lot]]:
    """The metal and the owner that the address asks for, and their lots that could go."""
    metal, owner = request.GET.get("metal", ""), _key(request, "owner")
    if metal not in Alloy.Metal.values:
        metal = ""
    return metal, owner, sendable_lots(metal, owner, _key(request, "lot")) if metal else []


def _key(request: HttpRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < _LONGEST_KEY else None


@require_http_methods(["GET", "HEAD", "POST"])
def send_batch(request: HttpRequest) -> HttpResponse:
    """A new batch of one metal of one owner: tick the lots that go."""
    metal, owner, lots = _offer(request)
    choices = metals_to_send()
    if not metal:
        own = [row for row in choices if row[1] is None]
        if len(own) == 1 and len(choices) == 1 and request.method != "POST":
            return redirect(f"{request.path}?metal={own[0][0]}")
        named = [(metal, name_metal(metal), owner, name, mass) for metal, owner, name, mass in choices]
        return render(request, "refining/choose.html", {"choices": named, "section": "stock"})
    form = SendForm(sent(request), metal, lots, _key(request, "lot"))
    sheet = Sheet(form)

    def save() -> str:
        found = form.cleaned_data
        batch = post_send(form.facts(), form.portions(), found["day"], found["note"], signed_in_user(request))
        messages.success(request, with_way_back(f"Batch {batch.pk} is on its way.", batch.entry))
        return reverse("inventory:batch-detail", args=[batch.pk])

    done = answer(sheet, save)
    if done is not None:
        return done
    context = {
        "section": "stock",
        "metal": name_metal(metal),
        "by_weight": is_by_weight(metal),
        "has_more": len(lots) == MOST_OFFERED,
        "has_refiners": refiners_with_batches().exists(),
        "estimate": _look_ahead(form) if form.is_bound else None,
    }
    return show(request, "refining/send.html", sheet, context)


@require_POST
def show_batch_ahead(request: HttpRequest) -> HttpResponse:
    """What the ticked lots would bring, from what is typed so far. Nothing is saved."""
    metal, _, lots = _offer(request)
    form = SendForm(request.POST, metal, lots)
    return render(
        request, "refining/ahead.html", {"estimate": _look_ahead(form), "by_weight": is_by_weight(metal)}
    )


def _look_ahead(form: SendForm) -> Estimate | None:
    """The estimate of what can be read so far; None without lots and a refiner with terms for the metal."""
    form.full_clean()
    terms = form.terms
    if terms is None or terms.payable_pct100(form.metal) is None or not form.portions():
        return None
    return compute_estimate(form.expected(), terms.of(form.metal), form.cleaned_data.get("price"))


def _find(pk: int) -> Batch:
    return or_404(find_batch(pk), "There is no such batch.")


@require_http_methods(["GET", "HEAD"])
def show_batch(request: HttpRequest, pk: int) -> HttpResponse:
    batch = _find(pk)
    sent_amounts = amounts_sent(batch)
    whole = total_of(sent_amounts.values())
    totals = {"mass": whole.quantity, "fine": whole.fine_ug, "cost": whole.cost_micro}
    table = InBatchTable(batch_rows(sent_amounts), totals=totals, order_by=())
    outcomes, estimate = outcomes_of(batch), estimate_of(batch, sent_amounts)
    batch.settled_count = len(outcomes)  # type: ignore[attr-defined]  # what the list annotates
    context = {
        "section": "stock",
        "batch": batch,
        "state": describe_batch(batch),
        "is_late": batch.holder.quantity > 0 and batch.due_on < timezone.localdate(),
        "days": (timezone.localdate() - batch.sent_on).days,
        "lots": lay_out(table, request) if sent_amounts else None,
        "estimate": estimate,
        "outcomes": [
            (outcome, lay_table(table_outcome(outcome), anchor=f"settled-{outcome.settlement.pk}"))
            for outcome in outcomes
        ],
        "compared": lay_table(table_compared(batch, estimate, outcomes), anchor="compared")
        if outcomes and estimate and not batch.holder.quantity
        else None,
        "returns": returns_of(batch),
    }
    return render(request, "refining/batch.html", context)


def _refuse_empty(request: HttpRequest, batch: Batch) -> HttpResponse | None:
    if batch.holder.quantity and not batch.void:
        return None
    messages.warning(request, f"{batch} holds nothing any more.")
    return redirect("inventory:batch-detail", batch.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def settle_batch(request: HttpRequest, pk: int) -> HttpResponse:
    """What a refiner's paper says of a batch, or of a part of it."""
    batch = _find(pk)
    sheet = settle_sheet(sent(request), batch)

    def save() -> str:
        found = sheet.form.cleaned_data
        part = read_paper(sheet.form, sheet.rows["metals"])
        settlement = post_settle(batch, part, found["day"], found["note"], signed_in_user(request))
        messages.success(request, with_way_back("The settlement is in the book.", settlement.entry))
        return reverse("inventory:batch-detail", args=[pk])

    done = answer(sheet, save) or _refuse_empty(request, batch)
    if done is not None:
        return done
    context = {"section": "stock", "batch": batch, "working": None}
    if sheet.form.is_bound:
        context |= _settle_ahead(sheet, batch)
    return show(request, "refining/settle.html", sheet, context)


@require_POST
def show_settle_ahead(request: HttpRequest, pk: int) -> HttpResponse:
    """What a settlement comes to, from what is typed so far. Nothing is saved."""
    batch = _find(pk)
    sheet = settle_sheet(request.POST, batch)
    return render(request, "refining/settle_ahead.html", _settle_ahead(sheet, batch))


def _settle_ahead(sheet: SettleSheet, batch: Batch) -> dict[str, Any]:
    """The working of what was typed, or in a sentence why it would be refused; nothing while it cannot be read."""
    found = sheet.form.cleaned_data if sheet.form.is_valid() else {}
    if not found or not sheet.rows["metals"].is_valid():
        return {}
    try:
        return {"working": sum_settled(batch, read_paper(sheet.form, sheet.rows["metals"])).working}
    except Refused as refused:
        return {"refused_ahead": refused.sentence}


@require_http_methods(["GET", "HEAD", "POST"])
def send_back(request: HttpRequest, pk: int) -> HttpResponse:
    """A batch that comes back unsettled: what is there of each lot."""
    batch = _find(pk)
    sent_amounts = amounts_sent(batch)
    # Nothing was sent with it any more: its sending was taken back.
    refused = None if sent_amounts else _refuse_empty(request, batch)
    if refused is not None:
        return refused
    held = Amount(batch.holder.quantity, batch.holder.fine_ug, batch.holder.cost_micro)
    none = [0] * len(sent_amounts)
    shares = [missing for _, missing in split_return(held, list(sent_amounts.values()), none)]
    form = SentBackForm(sent(request), dict(zip(sent_amounts, shares, strict=True)))
    sheet = Sheet(form)

    def save() -> str:
        found = form.cleaned_data
        entry = post_sent_back(batch, form.portions(), found["day"], found["note"], signed_in_user(request))
        messages.success(request, with_way_back("The metal is back in its lots.", entry))
        return reverse("inventory:batch-detail", args=[pk])

    done = answer(sheet, save) or _refuse_empty(request, batch)
    return done or show(
        request, "refining/send_back.html", sheet, {"section": "stock", "batch": batch, "shares": shares}
    )
