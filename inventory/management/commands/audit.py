"""Prove the ledger's promises over the whole database."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.audit import run_audit
from inventory.copies.keeping import NotACopy, looking_at
from studio.kit.schema import require_current


class Command(BaseCommand):
    help = "Check every promise of the ledger over the whole database; exit 1 when anything is wrong."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", help="look at this copy, or at the demo's file, instead")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["file"]:
            self._audit()
            return
        try:
            with looking_at(Path(options["file"])):
                self._audit()
        except NotACopy as error:
            raise CommandError(str(error)) from error

    def _audit(self) -> None:
        require_current()
        findings = run_audit()
        for finding in findings:
            verdict = "all well" if not finding.problems else f"{len(finding.problems)} wrong"
            self.stdout.write(f"{finding.promise}: {finding.checked:,} checked, {verdict}")
            for problem in finding.problems:
                self.stdout.write(f"  - {problem}")
        wrong = sum(len(finding.problems) for finding in findings)
        self.stdout.write(f"{wrong} wrong" if wrong else "Everything adds up.")
        if wrong:
            sys.exit(1)
