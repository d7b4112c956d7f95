"""Addresses of the ledger pages."""

from django.urls import path

from inventory.views import ledger

urlpatterns = [
    path("ledger/", ledger.Ledger.as_view(), name="ledger"),
    path("ledger/audit/", ledger.audit_ledger, name="ledger-audit"),
    path("ledger/<whole:pk>/", ledger.show_entry, name="entry-detail"),
    path("ledger/<whole:pk>/reverse/", ledger.reverse_entry, name="entry-reverse"),
]
