"""Addresses of everything about stock, by subject."""

from . import buying, casting, firing, ledger, plans, stock, studio

app_name = "inventory"

urlpatterns = [
    *studio.urlpatterns,
    *stock.urlpatterns,
    *buying.urlpatterns,
    *firing.urlpatterns,
    *casting.urlpatterns,
    *plans.urlpatterns,
    *ledger.urlpatterns,
]
