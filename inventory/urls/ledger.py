"""Addresses of the ledger pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
