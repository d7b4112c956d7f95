"""Addresses of the cost rules and the metal prices."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
