"""Addresses of the buying pages."""

from django.urls import path

from inventory.views import buying

urlpatterns = [
    path("buying/", buying.show_buying, name="buying"),
    path("buying/deliveries/", buying.DeliveryList.as_view(), name="delivery-list"),
    path("buying/deliveries/new/", buying.enter_delivery, name="delivery-new"),
    path("buying/deliveries/ahead/", buying.show_delivery_ahead, name="delivery-ahead"),
    path("buying/deliveries/<whole:pk>/", buying.show_delivery, name="delivery-detail"),
]
