"""Addresses of the whole studio."""

from django.urls import URLPattern, URLResolver, include, path

from inventory.views.saving import tell_saved

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("studio.kit.urls")),
    # Every page asks it, so it bears no app's name.
    path("saved/", tell_saved, name="saved"),
    path("", include("inventory.urls")),
    path("", include("costing.urls")),
]

handler500 = "studio.kit.views.show_broken"
