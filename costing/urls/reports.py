"""Addresses of the cost reports and of what a cast and a piece cost."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
