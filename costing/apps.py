from django.apps import AppConfig


class CostingConfig(AppConfig):
    """What it cost, and what to ask for it."""

    name = "costing"
