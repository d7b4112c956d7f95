"""Addresses of the stock pages."""

from django.urls import path

from inventory.views import lots, materials, stock

urlpatterns = [
    path("stock/", stock.show_stock, name="stock"),
    path("stock/lots/", stock.LotList.as_view(), name="lot-list"),
    path("stock/lots/<whole:pk>/", lots.show_lot, name="lot-detail"),
    path("stock/lots/<whole:pk>/<slug:name>/", lots.show_lot, name="lot-action"),
    path("stock/opening/", stock.enter_opening, name="opening"),
    path("stock/handed-in/", stock.take_in, name="handed-in"),
    path("stock/understood/", stock.show_quantity_understood, name="quantity-understood"),
    *materials.Materials.urls(),
]
