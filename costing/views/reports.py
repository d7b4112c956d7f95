"""Reports: the list, one on a page, and one as a file."""

from collections.abc import Mapping
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from studio.kit.report_page import lay_document
from studio.kit.reporting import ENDINGS, Report, all_reports, get_report, make_file
from studio.kit.views import or_404


@require_safe
def list_reports(request: HttpRequest) -> HttpResponse:
    return render(request, "costing/report_list.html", {"reports": all_reports(), "section": "reports"})


@require_safe
def show_report(request: HttpRequest, name: str) -> HttpResponse:
    """A report on a page; what cannot be asked for is said beside its field."""
    report = _find(name)
    form = report.form_class(request.GET)
    context = {"report": report, "form": form, "section": "reports"}
    if not form.is_valid():
        if not any(request.GET.values()):
            # Nobody asked for anything, so there is nothing to mend: what such a report tells of is not there yet.
            missing = [sentence for sentences in form.errors.values() for sentence in sentences]
            context |= {"form": report.form_class(), "missing": missing}
        return render(request, "costing/report_refused.html", context)
    document = report.build(form.cleaned_data)
    asked = form.settled()
    context |= {
        # What was left empty is filled in, so that everybody sees what they read.
        "form": report.form_class(initial=asked),
        "document": document,
        "blocks": lay_document(document, request.GET),
        "files": file_links(name, asked),
    }
    return render(request, "costing/report.html", context)


@require_safe
def take_report(request: HttpRequest, name: str, ending: str) -> HttpResponse:
    """A report as a file; what cannot be asked for leads to the page that says why."""
    report = _find(name)
    if ending not in ENDINGS:
        raise Http404("There is no such file.")
    form = report.form_class(request.GET)
    if not form.is_valid():
        return redirect(_address(name, "", request.GET.dict()))
    return make_file(report.build(form.cleaned_data), ending)


def file_links(name: str, asked: Mapping[str, str]) -> list[tuple[str, str]]:
    """(label, address) of every file of a report, with the same parameters as its page."""
    return [(ending.upper(), _address(name, ending, asked)) for ending in ENDINGS]


def _address(name: str, ending: str, asked: Mapping[str, str]) -> str:
    address = reverse("costing:report", args=[name, ending] if ending else [name])
    return f"{address}?{urlencode(asked)}" if asked else address


def _find(name: str) -> Report:
    return or_404(get_report(name), "There is no such report.")
