"""Addresses of the stock pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
