"""Addresses of what things cost, by subject."""

from . import reports, rules

app_name = "costing"

urlpatterns = [
    *rules.urlpatterns,
    *reports.urlpatterns,
]
