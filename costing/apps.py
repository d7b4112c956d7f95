from importlib import import_module

from django.apps import AppConfig


class CostingConfig(AppConfig):
    """What it cost, and what to ask for it."""

    name = "costing"

    def ready(self) -> None:
        from studio.kit.context import SECTIONS, Section

        SECTIONS.append(Section("reports", "Reports", "costing:report-list", ("/reports/",)))
        # Importing these adds the lines about costs to the set-up page, a check to the audit, and the reports to
        # their list.
        for module in (
            "costing.queries.setup",
            "costing.audit",
            "costing.reports.cast_cost",
            "costing.reports.metal_loss",
            "costing.reports.pieces_cost",
            "costing.reports.stock_value",
            "costing.reports.plan_and_fact",
        ):
            import_module(module)
