from django.apps import AppConfig


class KitConfig(AppConfig):
    """What every page shares; it has no models of its own."""

    name = "studio.kit"
    label = "kit"
