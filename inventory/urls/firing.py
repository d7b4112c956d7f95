"""Addresses of the firing pages."""

from django.urls import path

from inventory.views import firing

urlpatterns = [
    *firing.Firings.urls(),
    path("firings/<whole:pk>/", firing.show_firing, name="firing-detail"),
    path("firings/<whole:pk>/remove/", firing.remove_firing, name="firing-remove"),
]
