"""Addresses of what things cost, by subject."""

from django.urls import URLPattern, path

from costing.views import costs, reports, rules

app_name = "costing"

urlpatterns: list[URLPattern] = [
    *rules.Policies.urls(),
    *rules.MetalPrices.urls(),
    path("plans/<whole:pk>/cost/", costs.show_plan_cost, name="plan-cost"),
    path("plans/<whole:pk>/fact/", costs.show_plan_fact, name="plan-fact"),
    path("reports/", reports.list_reports, name="report-list"),
    path("reports/<slug:name>/", reports.show_report, name="report"),
    path("reports/<slug:name>.<slug:ending>", reports.take_report, name="report"),
    path("casts/<whole:number>/cost/", costs.show_cast_cost, name="cast-cost"),
    path("pieces/<whole:pk>/cost/", costs.show_piece_cost, name="piece-cost"),
]
