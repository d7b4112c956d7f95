"""Addresses of what things cost, by subject."""

from django.urls import URLPattern, path

from costing.views import asked, costs, designs, outside, prices, quotes, reports, rules, sales

app_name = "costing"

urlpatterns: list[URLPattern] = [
    *rules.Policies.urls(),
    *rules.MetalPrices.urls(),
    path("setup/pure-metal/paste/", prices.paste_fine_prices, name="fine-price-paste"),
    *prices.FinePrices.urls(),
    *prices.Premiums.urls(),
    *prices.NamedRules.urls(),
    *prices.Channels.urls(),
    *prices.AllTerms.urls(),
    path("setup/prices/", prices.edit_practice, name="price-practice"),
    path("prices/", asked.list_asked, name="asked-list"),
    path("prices/under-the-floor/", asked.list_under, name="asked-under"),
    path("pieces/<whole:pk>/price/", asked.ask_for_piece, name="piece-asked"),
    path("pieces/designs/<whole:pk>/price/", asked.ask_for_design, name="design-asked"),
    *outside.Outside.urls(),
    path("pieces/outside/<whole:pk>/remove/", outside.remove, name="outside-remove"),
    *quotes.Quotes.urls(),
    path("pieces/quotes/<whole:pk>/", quotes.show_quote, name="quote-detail"),
    path("pieces/quotes/<whole:pk>/keep/", quotes.keep, name="quote-keep"),
    path("pieces/designs/<whole:pk>/cost/", designs.show_design_cost, name="design-cost"),
    path("setup/sales/", sales.edit_sales_practice, name="sales-practice"),
    path("sales/", sales.SaleList.as_view(), name="sale-list"),
    path("sales/new/", sales.sell, name="sell"),
    path("sales/without-price/", sales.sell, {"gone": True}, name="sell-gone"),
    path("sales/owed/", sales.OwedList.as_view(), name="sales-owed"),
    path("sales/bills/", sales.BillList.as_view(), name="bill-list"),
    path("sales/bills/<whole:pk>/strike-out/", sales.strike_out, name="bill-strike-out"),
    path("sales/refunds/<whole:pk>/take-out/", sales.take_out_paid_back, name="refund-take-out"),
    path("sales/out/", sales.OutingList.as_view(), name="outing-list"),
    path("sales/out/new/", sales.take_out, name="send-out"),
    path("sales/out/<whole:pk>/", sales.show_outing, name="outing"),
    path("sales/out/<whole:pk>/back/", sales.come_back, name="come-back"),
    path("sales/<whole:pk>/", sales.show_sale, name="sale"),
    path("sales/<whole:pk>/bill/", sales.bill_sale, name="bill-new"),
    path("sales/pieces/<whole:pk>/back/", sales.pay_back, name="pay-back"),
    path("plans/<whole:pk>/cost/", costs.show_plan_cost, name="plan-cost"),
    path("plans/<whole:pk>/fact/", costs.show_plan_fact, name="plan-fact"),
    path("reports/", reports.list_reports, name="report-list"),
    path("reports/<slug:name>/", reports.show_report, name="report"),
    path("reports/<slug:name>.<slug:ending>", reports.take_report, name="report"),
    path("casts/<whole:number>/cost/", costs.show_cast_cost, name="cast-cost"),
    path("pieces/<whole:pk>/cost/", costs.show_piece_cost, name="piece-cost"),
]
