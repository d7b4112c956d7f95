"""Bring a copy of the whole studio back."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.copies.keeping import NotACopy
from inventory.copies.restoring import NotRestored, restore


class Command(BaseCommand):
    help = "Bring back a copy that `backup` kept. Close the studio first; everyone signs in again afterwards."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the copy")
        parser.add_argument("--replace", action="store_true", help="put aside the studio that is here now")
        parser.add_argument("--anyway", action="store_true", help="also a copy that does not add up")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            restored = restore(Path(options["file"]), replace=options["replace"], anyway=options["anyway"])
        except (NotACopy, NotRestored) as error:
            raise CommandError(str(error)) from error
        except OSError as error:
            raise CommandError(f"{error.filename} cannot be written: {error.strerror}.") from error
        if restored.aside is not None:
            self.stdout.write(f"The studio that was here lies in {restored.aside}.")
        wrong = len(restored.checked.problems)
        verdict = f"{wrong} wrong in it." if wrong else "everything adds up."
        self.stdout.write(
            f"Brought back {options['file']}. {restored.checked.count:,} things checked: {verdict}"
        )
