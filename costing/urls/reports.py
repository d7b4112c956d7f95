"""Addresses of the reports and of what a cast and a piece cost."""

from django.urls import path

from costing.views import costs, reports

urlpatterns = [
    path("reports/", reports.list_reports, name="report-list"),
    path("reports/<slug:name>/", reports.show_report, name="report"),
    path("reports/<slug:name>.<slug:ending>", reports.take_report, name="report"),
    path("casts/<whole:number>/cost/", costs.show_cast_cost, name="cast-cost"),
    path("pieces/<whole:pk>/cost/", costs.show_piece_cost, name="piece-cost"),
]
