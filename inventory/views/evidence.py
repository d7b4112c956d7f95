"""The page of evidence: what in the record of casts goes with failed ones."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.queries.evidence import read_designs, read_evidence
from inventory.queries.studio import studio_of
from inventory.reports.evidence import document_of
from studio.kit.report_page import lay_document


@require_safe
def show_evidence(request: HttpRequest) -> HttpResponse:
    studio = studio_of(request)
    evidence = read_evidence(studio)
    document = document_of(evidence, read_designs(evidence), studio)
    blocks = lay_document(document, request.GET)
    context = {"document": document, "blocks": blocks, "section": "casts"}
    return render(request, "casting/evidence.html", context)
