from importlib import import_module

from django.apps import AppConfig


class CostingConfig(AppConfig):
    """What it cost, and what to ask for it."""

    name = "costing"

    def ready(self) -> None:
        from studio.kit.context import SECTIONS, Section, fill_slots
        from studio.kit.reporting import find_reports

        SECTIONS.append(Section("reports", "Reports", "costing:report-list", ("/reports/",)))
        fill_slots("costing/slots.html")
        # Importing these adds lines to the set-up page, prices to a batch, what quotes take to what is bought, and a
        # check to the audit.
        for module in (
            "costing.queries.metal_price",
            "costing.queries.policy",
            "costing.queries.pricing",
            "costing.queries.sales",
            "costing.queries.wanted",
            "costing.audit",
        ):
            import_module(module)
        find_reports("costing.reports")
        # The search box knows the reports by their names, so this comes after them.
        import_module("costing.views.search")
