"""Addresses of the pages of planning a cast."""

from django.urls import URLPattern, path

from inventory.views import plans, plans_charge, plans_page

urlpatterns: list[URLPattern] = [
    path("plans/", plans.PlanList.as_view(), name="plan-list"),
    path("plans/new/", plans.edit_plan, name="plan-new"),
    path("plans/sums/", plans.show_sums, name="plan-sums"),
    path("plans/<whole:pk>/", plans_page.show_plan, name="plan-detail"),
    path("plans/<whole:pk>/edit/", plans.edit_plan, name="plan-edit"),
    path("plans/<whole:pk>/charge/", plans_charge.change_charge, name="plan-charge"),
    path("plans/<whole:pk>/charge/sums/", plans_charge.show_charge_sums, name="plan-charge-sums"),
    *(
        path(f"plans/<whole:pk>/{name}/", plans_page.act_on_plan, {"name": name}, name=f"plan-{name}")
        for name in plans_page.PLAN_ACTIONS
    ),
]
