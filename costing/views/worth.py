"""Whether the day of a cast was worth it: a page, the card on the page of the cast, and the line on the first page."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from costing.queries.worth import newest_weighed_out, read_worth
from costing.reports.worth import WorthCard
from inventory.queries.casting_page import find_cast
from inventory.queries.studio import current_studio
from studio.kit.report_page import lay_table
from studio.kit.views import or_404

from .costs import wants_part


@require_safe
def show_worth(request: HttpRequest, number: int) -> HttpResponse:
    """The card of a cast; of one that is not weighed out a sentence."""
    cast = or_404(find_cast(number), "There is no cast of this number.")
    context: dict[str, Any] = {"cast": cast, "section": "casts"}
    studio = current_studio()
    worth = read_worth(number, studio)
    if worth is not None:
        card = WorthCard(worth, studio)
        context |= {"card": card, "table": lay_table(card.table)}
    return render(
        request, "costing/worth_part.html" if wants_part(request) else "costing/worth.html", context
    )


@require_safe
def show_newest(request: HttpRequest) -> HttpResponse:
    """The line of the cast that was weighed out last; as a page of its own, that cast's."""
    number = newest_weighed_out()
    if not wants_part(request):
        return redirect("costing:cast-worth", number) if number else redirect("inventory:cast-list")
    worth = read_worth(number, current_studio()) if number else None
    card = WorthCard(worth, current_studio()) if worth else None
    return render(request, "costing/worth_line.html", {"card": card})
