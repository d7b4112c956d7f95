"""What suppliers offer, and the terms on which they send it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.filters import OfferFilter, WordsInUseFilter
from inventory.forms.offers import OfferSheet, SupplierSheet
from inventory.forms.proposal import ProposalForm
from inventory.forms.sheet import Sheet
from inventory.forms.studio import SupplierForm
from inventory.models import Material, Offer, Supplier
from inventory.posting.ordering import write_bands, write_breaks
from inventory.queries.offers import offers, say_lead
from inventory.queries.orders import lead_days
from inventory.queries.proposal import MOST_AT_ONCE, Proposal, propose, read_ahead
from inventory.queries.setup import every, find_by_key
from inventory.queries.studio import studio_of
from inventory.reports.to_buy import (
    document_of,
    list_beside,
    list_workings,
    picture_offers,
    say_for_longer,
    say_proposal,
    say_textbook,
    table_beside,
    table_offers,
    table_parcel,
)
from inventory.tables.ordering import OfferTable
from inventory.tables.studio import SupplierTable
from studio.kit.ordering import change_query
from studio.kit.report_page import lay_table
from studio.kit.reporting import ENDINGS, make_file

from .records import RecordPages


class Suppliers(RecordPages):
    """One that is written down has its terms and what it offers on its page; a new one is asked little."""

    name, folder = "supplier", "setup/suppliers/"
    model, form_class, table_class = Supplier, SupplierForm, SupplierTable
    filterset_class = WordsInUseFilter
    title = "Suppliers"
    lead = "Whom you buy from. How long a parcel takes decides when to order."
    press = ("Write down a supplier", "inventory:supplier-new")
    new_title = "A new supplier"
    record_template = "ordering/supplier.html"
    begins_with_form = True

    def make_sheet(self, data: Any, record: Supplier | None) -> Sheet:
        return super().make_sheet(data, record) if record is None else SupplierSheet(data, record)

    def save(self, sheet: Any) -> Supplier:
        supplier: Supplier = sheet.form.save()
        if isinstance(sheet, SupplierSheet):
            write_bands(supplier, sheet.bands())
        return supplier

    def read_more(self, record: Supplier | None) -> dict[str, Any]:
        if record is None:
            return {}
        return {
            "offer_count": every(Offer).filter(supplier=record, archived=False).count(),
            "took": say_lead(lead_days().get(record.pk, [])),
        }


class Offers(RecordPages):
    name, folder = "offer", "buying/offers/"
    model, table_class = Offer, OfferTable
    filterset_class = OfferFilter
    title = "Offers"
    lead = "Packs and their prices, by supplier: from them the cheapest order is worked out."
    press = ("Write down an offer", "inventory:offer-new")
    ways = (
        ("What to order, and where", "inventory:order-propose"),
        ("Suppliers and carriage", "inventory:supplier-list"),
    )
    new_title = "A new offer"
    record_template = "ordering/offer.html"

    def get_queryset(self) -> Any:
        return offers()

    def make_sheet(self, data: Any, record: Offer | None) -> OfferSheet:
        asked = self.request.GET
        initial = (
            {}
            if record
            else {
                "supplier": find_by_key(Supplier, asked.get("supplier", "")),
                "material": find_by_key(Material, asked.get("material", "")),
            }
        )
        return OfferSheet(data, record, initial)

    def save(self, sheet: Any) -> Offer:
        offer: Offer = sheet.form.save()
        write_breaks(offer, sheet.breaks())
        return offer


@require_safe
def show_proposal(request: HttpRequest) -> HttpResponse:
    """The cheapest order of what is ticked, for the weeks ahead; `?file=pdf` takes it away."""
    studio, today = studio_of(request), timezone.localdate()
    known, without = read_ahead(studio, today)
    form = ProposalForm(request.GET, known, today)
    is_right = not form.is_bound or form.is_valid()
    proposal = propose(studio, form.taken, form.own, form.weeks_asked, today) if is_right else None
    ending = request.GET.get("file", "")
    if proposal is not None and ending in ENDINGS:
        return make_file(document_of(proposal), ending)
    context = {
        "section": "buying",
        "form": form,
        "has_offers": bool(known),
        "without": [one for one in without if one.is_due_in(form.weeks_asked)][:MOST_AT_ONCE]
        if is_right
        else [],
        "today": today,
        "proposal": proposal,
        **(show_parts(proposal) if proposal is not None else {}),
        "files": [(ending.upper(), change_query(request.GET, file=ending)) for ending in ENDINGS],
    }
    return render(request, "ordering/proposal.html", context)


def show_parts(proposal: Proposal) -> dict[str, Any]:
    """What the page shows of a proposal: parcels with the way to order them, what stands beside, and why."""
    if proposal.choice is None or not proposal.choice.lines:
        return {"said": say_proposal(proposal), "needs": [one.working for one in proposal.wanted]}
    parcels = [
        {
            "supplier": supplier,
            "table": lay_table(table_parcel(proposal, supplier)),
            "picked": "&".join(
                f"pack={line.pack.key}x{line.packs}" for line in proposal.lines_of(supplier.pk)
            ),
        }
        for supplier in proposal.sellers
    ]
    materials = [
        {
            "material": one.known.material,
            "picture": picture_offers(proposal, one),
            "table": lay_table(table_offers(proposal, one)),
            "longer": say_for_longer(proposal, one),
            "textbook": say_textbook(proposal, one),
            "workings": list_beside(proposal, one),
        }
        for one in proposal.wanted
        if proposal.compare(one)
    ]
    return {
        "said": say_proposal(proposal),
        "parcels": parcels,
        "beside": lay_table(table_beside(proposal)),
        "materials": materials,
        "workings": list_workings(proposal),
    }
