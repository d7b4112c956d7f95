"""Keep a copy of the whole studio."""

import sqlite3
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from inventory.copies.keeping import keep_copy


class Command(BaseCommand):
    help = "Keep a copy of the whole studio in one file, also while it is open, and prove that it adds up."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder", nargs="?", help="where to keep it; the folder copies in var/ when not said"
        )
        parser.add_argument("--keep", type=int, metavar="N", help="keep the N newest copies in that folder")

    def handle(self, *args: Any, **options: Any) -> None:
        keep = options["keep"]
        if keep is not None and keep < 1:
            raise CommandError("--keep takes a number from 1 upward.")
        folder = Path(options["folder"] or settings.VAR_DIR / "copies")
        try:
            kept = keep_copy(folder, keep)
        except OSError as error:
            raise CommandError(f"No copy can be kept in {folder}: {error.strerror}.") from error
        except sqlite3.Error as error:
            raise CommandError(f"No copy could be written to {folder}: {error}.") from error
        for problem in kept.checked.problems:
            self.stdout.write(f"  - {problem}")
        if kept.checked.problems:
            self.stdout.write(
                f"{len(kept.checked.problems)} wrong. The copy is kept as {kept.file}, marked doubtful."
            )
            sys.exit(1)
        self.stdout.write(
            f"Kept {kept.file}. {kept.checked.count:,} things checked in it: everything adds up."
        )
        for file in kept.dropped:
            self.stdout.write(f"Let go of {file}.")
