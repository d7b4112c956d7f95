from django.apps import AppConfig


class InventoryConfig(AppConfig):
    """What the studio has, and where it went."""

    name = "inventory"
