"""Addresses of the cost rules and the metal prices."""

from costing.views import prices, rules

urlpatterns = [*rules.Policies.urls(), *prices.MetalPrices.urls()]
