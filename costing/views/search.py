"""How quotes, sales, fairs and channels are told by the search box, and the pages that it finds by their names."""

from functools import partial

from django.urls import reverse

import costing.queries.search  # noqa: F401 - what is looked through
from costing.models import Channel, Outing, Quote, Sale
from inventory.views.search import PAGES, PUT_AWAY_TOO, SORTS, Hit, Sort, join_words
from studio.kit.printing import print_date, print_money
from studio.kit.reporting import all_reports


def _tell_quote(quote: Quote) -> Hit:
    wanted = f"wanted {print_date(quote.wanted_on)}" if quote.wanted_on else ""
    address = reverse("costing:quote-detail", args=[quote.pk])
    return Hit(quote.name, address, join_words(quote.customer, quote.alloy, wanted))


def _tell_sale(sale: Sale) -> Hit:
    paid = print_money(sale.paid)  # type: ignore[attr-defined]  # annotated by the query
    address = reverse("costing:sale", args=[sale.pk])
    return Hit(
        str(sale), address, join_words(sale.buyer, sale.channel, sale.outing, paid, print_date(sale.day))
    )


def _tell_outing(outing: Outing) -> Hit:
    address = reverse("costing:outing", args=[outing.pk])
    return Hit(outing.name, address, join_words(outing.channel, print_date(outing.day)))


def _tell_channel(channel: Channel) -> Hit:
    return Hit(channel.name, reverse("costing:channel-edit", args=[channel.pk]), "")


SORTS |= {
    "quote": Sort("Quotes", _tell_quote, "costing:quote-list", PUT_AWAY_TOO),
    "sale": Sort("Sales", _tell_sale, "costing:sale-list"),
    "outing": Sort("Fairs and galleries", _tell_outing, "costing:outing-list"),
    "channel": Sort("Channels", _tell_channel, "costing:channel-list", PUT_AWAY_TOO),
}
PAGES |= {
    "What is asked: prices of pieces": partial(reverse, "costing:asked-list"),
    "Pieces under their floor": partial(reverse, "costing:asked-under"),
    "Sell pieces": partial(reverse, "costing:sell"),
    "Take pieces out to a fair or gallery": partial(reverse, "costing:send-out"),
    "How you sell": partial(reverse, "costing:sales-practice"),
    **{one.title: partial(reverse, "costing:report", args=[one.name]) for one in all_reports()},
}
