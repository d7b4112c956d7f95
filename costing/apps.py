from importlib import import_module

from django.apps import AppConfig


class CostingConfig(AppConfig):
    """What it cost, and what to ask for it."""

    name = "costing"

    def ready(self) -> None:
        # Importing it adds the lines about costs to the set-up page.
        import_module("costing.queries.setup")
