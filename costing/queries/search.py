"""What the search box looks through of quotes, sales, fairs and channels."""

from django.db.models import Exists, OuterRef, Q

from costing.models import Channel, Outing, Quote, QuoteLine, Sale
from inventory.queries.search import ROWS, SOUGHT, Sought
from inventory.queries.setup import every

from .sales import outings, sales


def _has_design(text: str) -> Q:
    lines = QuoteLine.objects.filter(quote=OuterRef("pk"), design__name__icontains=text)
    return Q(Exists(lines.order_by()))


SOUGHT |= {
    Quote: Sought(("name", "note", "customer__name"), more=_has_design),
    Sale: Sought(("buyer", "note", "channel__name", "outing__name")),
    Outing: Sought(("name", "note", "channel__name")),
    Channel: Sought(("name",)),
}
ROWS |= {
    "quote": lambda: every(Quote).select_related("customer", "alloy"),
    "sale": sales,
    "outing": outings,
    "channel": lambda: every(Channel),
}
