"""Addresses of everything about stock, by subject."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

from inventory.views import (
    bench,
    bench_clock,
    buying,
    casting_page,
    casting_record,
    counting,
    ledger,
    lots,
    mending,
    pieces,
    plans,
    plans_page,
    records,
    schedules,
    search,
    setup,
    stock,
)
from inventory.views.casting_actions import CAST_ACTIONS

app_name = "inventory"

urlpatterns: list[URLPattern] = [
    path("welcome/", setup.welcome, name="welcome"),
    path("help/", TemplateView.as_view(template_name="help/help.html"), name="help"),
    path("search/", search.find, name="search"),
    path("setup/", setup.show_setup, name="setup"),
    path("setup/studio/", setup.edit_studio, name="studio-edit"),
    path("setup/starters/", setup.add_starters, name="starters"),
    *records.Alloys.urls(),
    *records.Suppliers.urls(),
    *records.Customers.urls(),
    *records.AllEquipment.urls(),
    *schedules.Schedules.urls(),
    path("setup/schedules/<whole:pk>/", schedules.show_schedule, name="schedule"),
    path("setup/day/", schedules.edit_practice, name="day-practice"),
    path("setup/checklist/", bench_clock.show_checklist, name="checklist"),
    *bench_clock.ChecklistLines.record_urls(),
    path("setup/checklist/begin/", bench_clock.begin_with_common, name="checklist-begin"),
    path("setup/checklist/<whole:pk>/move/", bench_clock.move_line, name="checklist-move"),
    path("setup/checklist/<whole:pk>/remove/", bench_clock.remove_line, name="checklist-remove"),
    path("setup/people/", setup.PersonList.as_view(), name="person-list"),
    path("setup/people/new/", setup.add_person, name="person-new"),
    path("setup/people/<whole:pk>/", setup.show_person, name="person"),
    path("setup/people/<whole:pk>/let-in/", setup.let_in, name="person-let-in"),
    path("setup/copy/", setup.keep_copy, name="copy"),
    path("setup/password/", setup.PasswordChange.as_view(), name="password"),
    path("setup/<str:what>/<whole:pk>/archive/", records.archive, name="archive"),
    path("stock/", stock.show_stock, name="stock"),
    path("stock/lots/", stock.LotList.as_view(), name="lot-list"),
    path("stock/lots/<whole:pk>/", lots.show_lot, name="lot-detail"),
    path("stock/lots/<whole:pk>/<slug:name>/", lots.show_lot, name="lot-action"),
    path("stock/count/", counting.count_stock, name="count"),
    path("stock/counts/", counting.CountList.as_view(), name="count-list"),
    path("stock/counts/<whole:pk>/", counting.show_count, name="count-detail"),
    path("stock/opening/", stock.enter_opening, name="opening"),
    path("stock/handed-in/", stock.take_in, name="handed-in"),
    path("stock/understood/", stock.show_quantity_understood, name="quantity-understood"),
    *stock.Materials.urls(),
    path("buying/", buying.show_buying, name="buying"),
    path("buying/deliveries/", buying.DeliveryList.as_view(), name="delivery-list"),
    path("buying/deliveries/new/", buying.enter_delivery, name="delivery-new"),
    path("buying/deliveries/ahead/", buying.show_delivery_ahead, name="delivery-ahead"),
    path("buying/deliveries/<whole:pk>/", buying.show_delivery, name="delivery-detail"),
    path("buying/deliveries/<whole:pk>/bill/", buying.mend_bill, name="delivery-bill"),
    *schedules.Firings.urls(),
    path("firings/<whole:pk>/", schedules.show_firing, name="firing-detail"),
    path("firings/<whole:pk>/remove/", schedules.remove_firing, name="firing-remove"),
    path("", bench.show_bench, name="bench"),
    path("casts/", casting_page.CastList.as_view(), name="cast-list"),
    path("casts/record/", casting_record.record_cast, name="cast-record"),
    path("casts/start/", casting_page.start_cast, name="cast-start"),
    path("casts/balance/", casting_record.show_balance, name="cast-balance"),
    path("casts/water/", casting_record.show_water, name="cast-water"),
    path("casts/<whole:number>/", casting_page.show_cast, name="cast-detail"),
    *(
        path(f"casts/<whole:number>/{step}/", casting_page.show_cast, {"step": step}, name=f"cast-{step}")
        for step in CAST_ACTIONS
    ),
    path("casts/<whole:number>/time/<whole:pk>/take-out/", casting_page.take_out_time, name="cast-time-out"),
    path(
        "casts/<whole:number>/tree/<whole:pk>/take-out/",
        casting_page.take_out_tree_part,
        name="cast-tree-out",
    ),
    path("pieces/", pieces.PieceList.as_view(), name="piece-list"),
    path("pieces/<whole:pk>/", pieces.show_piece, name="piece-detail"),
    *(
        path(f"pieces/<whole:pk>/{name}/", pieces.show_piece, {"name": name}, name=f"piece-{name}")
        for name in pieces.PIECE_ACTIONS
    ),
    path("plans/", plans.PlanList.as_view(), name="plan-list"),
    path("plans/new/", plans.edit_plan, name="plan-new"),
    path("plans/sums/", plans.show_sums, name="plan-sums"),
    path("plans/<whole:pk>/", plans_page.show_plan, name="plan-detail"),
    path("plans/<whole:pk>/edit/", plans.edit_plan, name="plan-edit"),
    path("plans/<whole:pk>/charge/", plans_page.change_charge, name="plan-charge"),
    path("plans/<whole:pk>/charge/sums/", plans_page.show_charge_sums, name="plan-charge-sums"),
    *(
        path(f"plans/<whole:pk>/{name}/", plans_page.act_on_plan, {"name": name}, name=f"plan-{name}")
        for name in plans_page.PLAN_ACTIONS
    ),
    path("days/<whole:pk>/", bench_clock.show_day, name="day"),
    path("days/<whole:pk>/calendar.ics", bench_clock.take_calendar, name="day-calendar"),
    path("casts/<whole:number>/clock/", bench_clock.show_clock, name="cast-clock"),
    path("casts/<whole:number>/checks/", bench_clock.show_checks, name="cast-checks"),
    path("ledger/", ledger.Ledger.as_view(), name="ledger"),
    path("ledger/audit/", ledger.audit_ledger, name="ledger-audit"),
    path("ledger/<whole:pk>/", ledger.show_entry, name="entry-detail"),
    path("ledger/<whole:pk>/mend/", mending.mend_entry, name="entry-mend"),
    path("ledger/<whole:pk>/reverse/", ledger.reverse_entry, name="entry-reverse"),
]
