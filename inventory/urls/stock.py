"""Addresses of the stock pages."""

from django.urls import path

from inventory.views import lots, materials, stock

urlpatterns = [
    path("stock/", stock.show_stock, name="stock"),
    path("stock/lots/", stock.LotList.as_view(), name="lot-list"),
    path("stock/lots/<whole:pk>/", lots.show_lot, name="lot-detail"),
    path("stock/lots/<whole:pk>/<slug:name>/", lots.act_on_lot, name="lot-action"),
    path("stock/opening/", stock.enter_opening, name="opening"),
    path("stock/handed-in/", stock.take_in, name="handed-in"),
    path("stock/understood/", stock.show_quantity_understood, name="quantity-understood"),
    path("stock/materials/", materials.MaterialList.as_view(), name="material-list"),
    path("stock/materials/new/", materials.MaterialCreate.as_view(), name="material-new"),
    path("stock/materials/<whole:pk>/", materials.MaterialUpdate.as_view(), name="material-edit"),
]
