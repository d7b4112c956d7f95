"""What pure metal costs, what makers ask on top, price rules, channels and terms: listed, written down, changed."""

from typing import Any

import django_filters
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods

from costing.forms.channels import ChannelForm, NamedRuleForm, PracticeForm, TermsForm
from costing.forms.prices import FinePasteForm, FinePriceForm, PremiumForm
from costing.models import AlloyPremium, CastingTerms, Channel, FinePrice, NamedRule
from costing.models.prices import PRECIOUS
from costing.posting.prices import write_fine_prices
from costing.queries.metal_price import fine_prices, premiums
from costing.queries.pricing import price_practice
from costing.tables.prices import ChannelTable, FinePriceTable, NamedRuleTable, PremiumTable, TermsTable
from inventory.filters import InUseFilter, WordsInUseFilter
from inventory.forms.sheet import Sheet
from inventory.queries.setup import every
from inventory.views.records import RecordPages
from inventory.views.saving import alone, answer, answer_record, sent, show
from studio.kit.documents import Column, Filled, fill_table
from studio.kit.listing import DayFilter, ListFilter
from studio.kit.printing import SPACE, print_date
from studio.kit.report_page import lay_table

_TWICE = "This metal has a price on this day already. Look at it in the list, or write another day."


def _lead_to_floors(said: str) -> SafeString:
    """What was done, and where to see what it changes."""
    return format_html(
        '{} <a href="{}">What falls under its floor now</a>', said, reverse("costing:asked-under")
    )


class FinePriceFilter(ListFilter):
    metal = django_filters.ChoiceFilter(label="Metal", choices=PRECIOUS, empty_label="all")
    since = DayFilter(field_name="day", lookup_expr="gte", label="From")
    until = DayFilter(field_name="day", lookup_expr="lte", label="Up to")


class FinePrices(RecordPages):
    """One price of each pure metal a day."""

    app, name, folder = "costing", "fine-price", "setup/pure-metal/"
    model, form_class, table_class = FinePrice, FinePriceForm, FinePriceTable
    title = "Prices of pure metal"
    lead = (
        "What silver, gold, platinum and palladium cost by day. An alloy costs its fine metal at the newest price, "
        "and what its maker asks on top."
    )
    filterset_class = FinePriceFilter
    press = ("Write down a price", "costing:fine-price-new")
    ways = (
        ("Paste many, or take a CSV file", "costing:fine-price-paste"),
        ("What makers ask on top", "costing:premium-list"),
        ("Prices of the alloys themselves", "costing:price-list"),
        ("What falls under its floor", "costing:asked-under"),
    )
    new_title = "A new price of pure metal"
    taken = ("day", _TWICE)

    def get_queryset(self) -> Any:
        return fine_prices()

    def make_sheet(self, data: Any, record: FinePrice | None) -> Sheet:
        return Sheet(
            FinePriceForm(data, instance=record, initial={} if record else {"day": timezone.localdate()})
        )

    def describe(self, record: FinePrice) -> str:
        return f"Pure {record.metal} on {print_date(record.day).replace(SPACE, ' ')}"

    def describe_saved(self, record: FinePrice) -> str:
        return _lead_to_floors(f"Saved: {self.describe(record)}.")


class Premiums(RecordPages):
    app, name, folder = "costing", "premium", "setup/premiums/"
    model, form_class, table_class = AlloyPremium, PremiumForm, PremiumTable
    title = "What makers ask on top"
    lead = "On top of the pure metal in an alloy: a share of it, so much for each gram, or both."
    filterset_class = None
    press = ("Write down a premium", "costing:premium-new")
    new_title = "A new premium"
    taken = ("alloy", "This alloy has a premium already. Change that one.")

    def get_queryset(self) -> Any:
        return premiums()

    def describe(self, record: AlloyPremium) -> str:
        return f"Premium of {record.alloy}"

    def describe_saved(self, record: AlloyPremium) -> str:
        return f"Saved: premium of {record.alloy}."


class NamedRules(RecordPages):
    app, name, folder = "costing", "rule", "setup/price-rules/"
    model, form_class, table_class = NamedRule, NamedRuleForm, NamedRuleTable
    filterset_class = InUseFilter
    title = "Price rules"
    lead = "Each says what should be left of a price once fees and tax are gone. Channels are priced by them."
    press = ("Name a price rule", "costing:rule-new")
    ways = (
        ("Channels", "costing:channel-list"),
        ("How prices are looked at", "costing:price-practice"),
        ("Wholesale and retail", "costing:policy-list"),
    )
    new_title = "A new price rule"


class Channels(RecordPages):
    app, name, folder = "costing", "channel", "setup/channels/"
    model, form_class, table_class = Channel, ChannelForm, ChannelTable
    filterset_class = WordsInUseFilter
    title = "Channels"
    lead = "The ways in which you sell, and what each keeps: prices are solved so that the rest is what you want."
    press = ("Write down a channel", "costing:channel-new")
    ways = (("Price rules", "costing:rule-list"), ("How prices are looked at", "costing:price-practice"))
    new_title = "A new channel"

    def get_queryset(self) -> Any:
        return every(Channel).select_related("rule")


class AllTerms(RecordPages):
    app, name, folder = "costing", "terms", "setup/casting-for-others/"
    model, form_class, table_class = CastingTerms, TermsForm, TermsTable
    filterset_class = InUseFilter
    title = "Casting for others"
    lead = "What a customer pays for casting. Their casts tell what the work costs them."
    press = ("Write down terms", "costing:terms-new")
    new_title = "New terms"


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_practice(request: HttpRequest) -> HttpResponse:
    """How old a price may be, over which time failures are counted, where prices are asked, and their floor."""
    form = PracticeForm(sent(request), instance=price_practice())
    address = reverse("costing:channel-list")

    def save() -> str:
        form.save()
        messages.success(request, "Saved.")
        return address

    return answer_record(request, form, save, "How prices are looked at", (address, "Channels"))


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def paste_fine_prices(request: HttpRequest) -> HttpResponse:
    """Many prices of one pure metal at once; what was understood is shown, and kept once it was ticked."""
    form = FinePasteForm(sent(request), request.FILES or None)
    sheet = Sheet(form)

    def save() -> str:
        count = write_fine_prices(form.cleaned_data["metal"], form.read.prices)
        said = f"Saved: {'1 price' if count == 1 else f'{count:,} prices'}."
        messages.success(request, _lead_to_floors(said))
        return reverse("costing:fine-price-list")

    done = answer(sheet, save)
    return done or show(
        request, "costing/price_paste.html", sheet, {"understood": _lay_understood(form, request)}
    )


def _lay_understood(form: FinePasteForm, request: HttpRequest) -> Any:
    """What was understood of the lines so far; None before anything was."""
    prices = form.read.prices
    if not prices:
        return None
    filled = [
        Filled(Column("day", "Day", "day"), [price.day for price in prices]),
        Filled(Column("price", "Price"), [price.words for price in prices]),
    ]
    return lay_table(fill_table("What was understood", filled))
