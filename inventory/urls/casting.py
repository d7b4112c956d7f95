"""Addresses of the casting pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
