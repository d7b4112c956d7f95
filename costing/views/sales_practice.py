"""How the studio sells: when what is owed is told, how tax is rounded, what stands on bills."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.forms.sales import SalesPracticeForm
from costing.queries.sales import sales_practice
from inventory.views.saving import alone, answer_record, sent


@require_http_methods(["GET", "HEAD", "POST"])
@alone
def edit_sales_practice(request: HttpRequest) -> HttpResponse:
    """When what is owed is told, how tax is rounded, and what stands on bills."""
    form = SalesPracticeForm(sent(request), instance=sales_practice())
    address = reverse("costing:sale-list")

    def save() -> str:
        form.save()
        messages.success(request, "Saved.")
        return address

    return answer_record(request, form, save, "How you sell", (address, "Sales"), section="pieces")
