"""Addresses of the firing pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
