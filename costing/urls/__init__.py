"""Addresses of what things cost, by subject."""

from . import plans, reports, rules

app_name = "costing"

urlpatterns = [
    *rules.urlpatterns,
    *plans.urlpatterns,
    *reports.urlpatterns,
]
