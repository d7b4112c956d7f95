"""Reports: the list, one on a page, and one as a file."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from studio.kit.report_page import lay_document
from studio.kit.reporting import Report, all_reports, get_report, make_file

ENDINGS = (("pdf", "PDF"), ("csv", "CSV"), ("xlsx", "XLSX"))


@require_safe
def list_reports(request: HttpRequest) -> HttpResponse:
    return render(request, "costing/report_list.html", {"reports": all_reports(), "section": "reports"})


def _find(name: str) -> Report:
    report = get_report(name)
    if report is None:
        raise Http404("There is no such report.")
    return report


@require_safe
def show_report(request: HttpRequest, name: str) -> HttpResponse:
    """A report on a page; what cannot be asked for is said beside its field."""
    report = _find(name)
    form = report.form_class(request.GET)
    context = {"report": report, "form": form, "section": "reports"}
    if not form.is_valid():
        return render(request, "costing/report_refused.html", context)
    document = report.build(form.cleaned_data)
    query = f"?{request.GET.urlencode()}" if request.GET else ""
    files = [(label, reverse("costing:report", args=[name, ending]) + query) for ending, label in ENDINGS]
    return render(
        request,
        "kit/report.html",
        context | {"document": document, "blocks": lay_document(document), "files": files},
    )


@require_safe
def take_report(request: HttpRequest, name: str, ending: str) -> HttpResponse:
    """A report as a file; what cannot be asked for leads to the page that says why."""
    report = _find(name)
    if ending not in dict(ENDINGS):
        raise Http404("There is no such file.")
    form = report.form_class(request.GET)
    if not form.is_valid():
        return render(
            request,
            "costing/report_refused.html",
            {"report": report, "form": form, "section": "reports"},
            status=400,
        )
    return make_file(report.build(form.cleaned_data), ending)
