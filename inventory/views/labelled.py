"""A list from which labels are printed for what it shows."""

from typing import Any

from django.urls import reverse

from studio.kit.listing import ListingView
from studio.kit.ordering import change_query


class LabelledList(ListingView):
    """Set `labels` to the kind of thing in THINGS."""

    labels = ""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        shown = change_query(self.request.GET, page=None, sort=None)
        address = f"{reverse('inventory:labels', args=[self.labels])}{shown}"
        return {**context, "ways": [*context["ways"], ("Labels for what is shown", address)]}
