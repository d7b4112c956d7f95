"""What suppliers offer, and the terms on which they send it."""

from typing import Any

from inventory.filters import OfferFilter, WordsInUseFilter
from inventory.forms.ordering import OfferSheet, SupplierSheet
from inventory.forms.sheet import Sheet
from inventory.forms.studio import SupplierForm
from inventory.models import Material, Offer, Supplier
from inventory.posting.ordering import write_bands, write_breaks
from inventory.queries.offers import offers, say_lead
from inventory.queries.orders import lead_days
from inventory.queries.setup import every, find_by_key
from inventory.tables.ordering import OfferTable
from inventory.tables.studio import SupplierTable

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
            "took": say_lead(lead_days(record)),
        }


class Offers(RecordPages):
    name, folder = "offer", "buying/offers/"
    model, table_class = Offer, OfferTable
    filterset_class = OfferFilter
    title = "Offers"
    lead = "Packs and their prices, by supplier: from them the cheapest order is worked out."
    press = ("Write down an offer", "inventory:offer-new")
    ways = (("Suppliers and carriage", "inventory:supplier-list"),)
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
