"""Write a report to a file: PDF, CSV or XLSX by the file's ending."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.forms import Form

from inventory.queries.studio import NotSetUp, current_studio
from studio.kit.money import showing_money
from studio.kit.reporting import ENDINGS, Report, all_reports, get_report, make_file
from studio.kit.scale import showing_scale


class Command(BaseCommand):
    help = "Write a report to a file; without a name, list the reports there are."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", nargs="?", help="the report's name")
        parser.add_argument("-o", "--output", help="the file to write; .pdf, .csv or .xlsx")
        parameters = {
            name: field for report in all_reports() for name, field in report.form_class().fields.items()
        }
        for name, field in parameters.items():
            parser.add_argument(_option(name), help=str(field.help_text or field.label))

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["name"]:
            for report in all_reports():
                parameters = " ".join(_option(name) for name in report.form_class().fields)
                self.stdout.write(f"{report.name} {parameters}\n    {report.summary}")
            return
        report = _find(options["name"])
        target = _read_target(options["output"])
        content = _make(report, target.suffix.lstrip(".").lower(), options)
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        except OSError as error:
            raise CommandError(f"{target} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{report.title}: {target}")


def _option(name: str) -> str:
    """A parameter as the terminal says it."""
    return f"--{name.replace('_', '-')}"


def _find(name: str) -> Report:
    report = get_report(name)
    if report is None:
        known = ", ".join(one.name for one in all_reports())
        raise CommandError(f"There is no report named {name}. There are: {known}.")
    return report


def _read_target(output: str | None) -> Path:
    if not output:
        raise CommandError("Say which file to write: -o FILE, ending in .pdf, .csv or .xlsx.")
    target = Path(output)
    if target.suffix.lstrip(".").lower() not in ENDINGS:
        raise CommandError("The file's name must end in .pdf, .csv or .xlsx.")
    return target


def _make(report: Report, ending: str, options: dict[str, Any]) -> bytes:
    form = report.form_class({name: options[name] for name in report.form_class().fields})
    known = {name for report in all_reports() for name in report.form_class().fields}
    given = [name for name, value in options.items() if name in known and value is not None]
    foreign = [name for name in given if name not in form.fields]
    if foreign:
        raise CommandError(f"The report {report.name} has no {_option(foreign[0])}.")
    try:
        if not form.is_valid():
            raise CommandError(_say_mistakes(form))
        studio = current_studio()
        with showing_money(studio.money_decimals), showing_scale(studio.scale_division_mg):
            return make_file(report.build(form.cleaned_data), ending).content
    except NotSetUp as error:
        raise CommandError(str(error)) from error


def _say_mistakes(form: Form) -> str:
    said = []
    for name, errors in form.errors.items():
        option = f"{_option(name)}: " if name in form.fields else ""
        said += [f"{option}{error}" for error in errors]
    return " ".join(said)
