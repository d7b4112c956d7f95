"""More decades from one: rows that posting made, written again for later days with keys and seals of their own."""

from datetime import date
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction

from inventory.core.ledger import Amount, seal_of
from inventory.models import Cast, Holder, Lot, Movement, Piece
from inventory.posting.pieces import post_sale
from inventory.posting.stock import post_scrap

DECADE_DAYS = 3650
# What the work writes; what the studio has once (materials, equipment, places outside) is shared by all decades.
_WORKED = tuple(
    apps.get_model("inventory", name)
    for name in (
        "holder",
        "firing",
        "cast",
        "entry",
        "delivery",
        "lot",
        "treepart",
        "piece",
        "benchtime",
        "movement",
    )
)
_SEALED = ("entry_id", "line", "source_id", "target_id", "day", "quantity", "fine_ug", "cost_micro", "what")


def copy_decade(copies: int) -> None:
    """The decade that is in the database, `copies` times more, each ten years after the one before."""
    steps = {model: model._meta.default_manager.aggregate(top=models.Max("pk"))["top"] for model in _WORKED}
    lots = list(Lot.objects.filter(holder__quantity__gt=0).values_list("pk", flat=True))
    pieces = list(Piece.objects.filter(holder__quantity__gt=0).values_list("pk", flat=True))
    with transaction.atomic(), connection.cursor() as cursor:
        connection.connection.create_function("seal_of", len(_SEALED), _seal, deterministic=True)
        for number in range(1, copies + 1):
            for model in _WORKED:
                cursor.execute(_insertion(model, steps, number))
        for number in range(copies):
            _clear_shelf(
                [pk + number * steps[Lot] for pk in lots], [pk + number * steps[Piece] for pk in pieces]
            )


def _insertion(model: type[models.Model], steps: dict[Any, int], number: int) -> str:
    """The statement that writes the rows of the first decade again, `number` decades later."""
    columns = {field.column: _later(field, steps, number) for field in model._meta.concrete_fields}
    if model is Movement:
        columns["seal"] = f"seal_of({', '.join(columns[name] for name in _SEALED)})"
    if model is Cast:
        columns["number"] = f"number + {steps[Cast] * number}"
    first = f"id <= {steps[model]}" + (f" AND kind <> '{Holder.Kind.OUTSIDE}'" if model is Holder else "")
    table = model._meta.db_table
    return f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(columns.values())} FROM {table} WHERE {first}"


def _later(field: Any, steps: dict[Any, int], number: int) -> str:
    column: str = field.column
    shifted = field.model if field.primary_key else field.related_model
    if shifted in steps:
        moved = f"{column} + {steps[shifted] * number}"
        outside = Holder.objects.filter(kind=Holder.Kind.OUTSIDE).values_list("pk", flat=True)
        places = ", ".join(map(str, outside))
        return (
            f"CASE WHEN {column} IN ({places}) THEN {column} ELSE {moved} END" if shifted is Holder else moved
        )
    if field.get_internal_type() == "DateField":
        return f"date({column}, '+{DECADE_DAYS * number} days')"
    return column


def _seal(entry: int, line: int, source: int, target: int, day: str, *measures_and_what: Any) -> str:
    *measures, what = measures_and_what
    return seal_of(entry, line, source, target, date.fromisoformat(day), Amount(*measures), what)


def _clear_shelf(lots: list[int], pieces: list[int]) -> None:
    """What stood on the shelf at a decade's end goes: a studio has one shelf, however many its years."""
    for lot in Lot.objects.filter(pk__in=lots).select_related("holder", "material__alloy"):
        post_scrap(lot, lot.holder.quantity, lot.holder.latest_day or lot.received_on)
    for piece in Piece.objects.filter(pk__in=pieces).select_related("holder", "cast__alloy"):
        post_sale(piece, piece.holder.latest_day or piece.cast.day)
