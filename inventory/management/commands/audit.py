"""Prove the ledger's promises over the whole database."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from inventory.audit import run_audit


class Command(BaseCommand):
    help = "Check every promise of the ledger over the whole database; exit 1 when anything is wrong."

    def handle(self, *args: Any, **options: Any) -> None:
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
