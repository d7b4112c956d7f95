"""Addresses of everything about stock, by subject."""

from . import buying, casting, days, firing, ledger, plans, stock, studio

app_name = "inventory"

urlpatterns = [
    *studio.urlpatterns,
    *stock.urlpatterns,
    *buying.urlpatterns,
    *firing.urlpatterns,
    *casting.urlpatterns,
    *plans.urlpatterns,
    *days.urlpatterns,
    *ledger.urlpatterns,
]
