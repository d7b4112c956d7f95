"""Addresses of the studio pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
