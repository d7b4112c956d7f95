from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    """What the studio has, and where it went."""

    name = "inventory"

    def ready(self) -> None:
        from .guards import install_guards

        post_migrate.connect(install_guards, sender=self)
        # Importing it puts the report on the list.
        import_module("inventory.reports.run_sheet")
