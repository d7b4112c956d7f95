"""Addresses of the whole studio."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("studio.kit.urls")),
    path("", include("inventory.urls")),
    path("", include("costing.urls")),
]

handler500 = "studio.kit.views.show_broken"
