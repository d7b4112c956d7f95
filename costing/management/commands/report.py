"""Write a report to a file: PDF, CSV or XLSX by the file's ending."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.queries.studio import NotSetUp
from studio.kit.reporting import all_reports, get_report, make_file

_FIELDS = {"cast": "cast", "from": "first", "to": "last", "alloy": "alloy"}


class Command(BaseCommand):
    help = "Write a report to a file; without a name, list the reports there are."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", nargs="?", help="the report's name")
        parser.add_argument("-o", "--output", help="the file to write; .pdf, .csv or .xlsx")
        parser.add_argument("--cast", help="number of a cast")
        parser.add_argument("--from", help="first day, such as 2026-01-31")
        parser.add_argument("--to", help="last day")
        parser.add_argument("--alloy", help="an alloy by its name")

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"]
        if not name:
            for report in all_reports():
                self.stdout.write(f"{report.name}: {report.summary}")
            return
        report_wanted = get_report(name)
        if report_wanted is None:
            raise CommandError(f"There is no report named {name}. Without a name, this command lists them.")
        if not options["output"]:
            raise CommandError("Say which file to write: -o FILE, ending in .pdf, .csv or .xlsx.")
        target = Path(options["output"])
        ending = target.suffix.lstrip(".").lower()
        if ending not in ("pdf", "csv", "xlsx"):
            raise CommandError("The file's name must end in .pdf, .csv or .xlsx.")
        form = report_wanted.form_class(self._typed(options))
        if not form.is_valid():
            raise CommandError(" ".join(str(error) for errors in form.errors.values() for error in errors))
        try:
            content = make_file(report_wanted.build(form.cleaned_data), ending).content
        except NotSetUp as error:
            raise CommandError(str(error)) from error
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)

    def _typed(self, options: dict[str, Any]) -> dict[str, Any]:
        typed = {field: options[option] for option, field in _FIELDS.items() if options[option]}
        if "alloy" in typed:
            from inventory.models import Alloy

            alloy = Alloy.objects.filter(name=typed["alloy"]).first()
            if alloy is None:
                raise CommandError(f"There is no alloy named {typed['alloy']}.")
            typed["alloy"] = alloy.pk
        return typed
