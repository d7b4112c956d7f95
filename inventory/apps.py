from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.db.models.signals import post_delete, post_migrate


class InventoryConfig(AppConfig):
    """What the studio has, and where it went."""

    name = "inventory"

    def ready(self) -> None:
        from studio.kit.context import SECTIONS, Section
        from studio.kit.reporting import find_reports
        from studio.kit.schema import gather_statistics

        from .guards import install_guards
        from .models import Picture
        from .posting.pictures import forget_files

        post_migrate.connect(install_guards, sender=self)
        post_migrate.connect(gather_statistics, sender=self)
        post_delete.connect(forget_files, sender=Picture)
        user_logged_in.connect(gather_statistics)
        SECTIONS.extend(
            (
                Section("bench", "Bench", "inventory:bench", ()),
                Section(
                    "casts", "Casts", "inventory:cast-list", ("/casts/", "/plans/", "/days/", "/firings/")
                ),
                Section("stock", "Stock", "inventory:stock", ("/stock/", "/ledger/")),
                Section("pieces", "Pieces", "inventory:piece-list", ("/pieces/", "/sales/")),
                Section("buying", "Buying", "inventory:buying", ("/buying/",)),
                Section("setup", "Set-up", "inventory:setup", ("/setup/",), is_quiet=True),
                Section("help", "Help", "inventory:help", ("/help/",), is_quiet=True),
            )
        )
        find_reports("inventory.reports")
