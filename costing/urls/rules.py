"""Addresses of the cost rules and the metal prices."""

from django.urls import path

from costing.views import prices, rules

urlpatterns = [
    path("setup/cost-rules/", rules.PolicyList.as_view(), name="policy-list"),
    path("setup/cost-rules/new/", rules.PolicyCreate.as_view(), name="policy-new"),
    path("setup/cost-rules/<whole:pk>/", rules.PolicyUpdate.as_view(), name="policy-edit"),
    path("setup/metal-prices/", prices.MetalPriceList.as_view(), name="price-list"),
    path("setup/metal-prices/new/", prices.MetalPriceCreate.as_view(), name="price-new"),
    path("setup/metal-prices/<whole:pk>/", prices.MetalPriceUpdate.as_view(), name="price-edit"),
]
