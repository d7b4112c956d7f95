"""Addresses of the firing pages."""

from django.urls import path

from inventory.views import firing

urlpatterns = [
    path("firings/", firing.FiringList.as_view(), name="firing-list"),
    path("firings/new/", firing.edit_firing, name="firing-new"),
    path("firings/<whole:pk>/", firing.show_firing, name="firing-detail"),
    path("firings/<whole:pk>/edit/", firing.edit_firing, name="firing-edit"),
    path("firings/<whole:pk>/remove/", firing.remove_firing, name="firing-remove"),
]
