"""Addresses of what a plan will cost, and of plan beside fact."""

from django.urls import path

from costing.views import plans

urlpatterns = [
    path("plans/<whole:pk>/cost/", plans.show_plan_cost, name="plan-cost"),
    path("plans/<whole:pk>/fact/", plans.show_plan_fact, name="plan-fact"),
]
