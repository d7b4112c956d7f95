"""Addresses of the casting pages."""

from django.urls import URLPattern, path

from inventory.views import bench, casting, casting_page, casting_record, pieces
from inventory.views.casting_actions import CAST_ACTIONS

urlpatterns: list[URLPattern] = [
    path("", bench.show_bench, name="bench"),
    path("casts/", casting.CastList.as_view(), name="cast-list"),
    path("casts/record/", casting_record.record_cast, name="cast-record"),
    path("casts/start/", casting.start_cast, name="cast-start"),
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
]
