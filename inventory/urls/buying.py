"""Addresses of the buying pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
