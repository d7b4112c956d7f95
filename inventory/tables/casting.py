"""The lists of casts and pieces."""

from functools import cached_property
from typing import Any

from django.db.models import F, QuerySet
from django.db.models.functions import NullIf
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import A

from inventory.core.casting import STEP_TASKS
from inventory.core.weighing import compute_share_pct100
from inventory.models import Cast
from inventory.queries.casting import next_step_of
from inventory.queries.pictures import first_pictures
from studio.kit import printing
from studio.kit.charts import render_gram_strip
from studio.kit.columns import CountColumn, DayColumn, MassColumn, MoneyColumn, TextColumn, WorkedColumn
from studio.kit.tables import BaseTable


def _loss_share(record: Any, table: Any) -> int | None:
    return compute_share_pct100(record.lost_mg, record.charge_mg)


class CastTable(BaseTable):
    """Casts read through `casts_with_grams` and `with_steps`."""

    caption = "Casts"

    number = CountColumn("Cast")
    title = TextColumn("What was cast, and where the metal went")
    day = DayColumn(wide=True)
    alloy = TextColumn(wide=True)
    charge_mg = MassColumn("Charge", empty_values=(None, 0), wide=True)
    lost_mg = MassColumn("Lost")
    loss_share = WorkedColumn("Lost of charge", _loss_share, kind="percent", accessor="lost_mg", wide=True)
    next_step = TextColumn("To do next", accessor="pk", wide=True)

    class Meta:
        empty_text = "No cast yet. Record one that is done, or start one and follow it step by step."
        order_by = "-number"

    def render_number(self, value: int) -> str:
        return str(value)

    def render_title(self, value: str, record: Any) -> SafeString:
        """The bar stands under the title, so that a phone has room for both."""
        address = reverse("inventory:cast-detail", args=[record.number])
        masses_mg = (record.pieces_mg, record.back_mg, record.filings_mg, record.lost_mg)
        strip = "" if None in masses_mg else render_gram_strip(*masses_mg)
        return format_html('<a href="{}">{}</a>{}', address, value, strip)

    def value_title(self, value: str) -> str:
        return value

    def render_alloy(self, value: Any, record: Any) -> str:
        return f"{value}, {record.owner}" if record.owner else str(value)

    def render_next_step(self, record: Any) -> str:
        if record.closed_on is None:
            return STEP_TASKS[next_step_of(record)].capitalize()
        return "failed" if record.outcome == Cast.Outcome.FAILED else printing.NOTHING

    def value_next_step(self, record: Any) -> str:
        step = next_step_of(record)
        return STEP_TASKS[step] if step else record.get_outcome_display()

    def order_loss_share(self, rows: "QuerySet[Any]", is_descending: bool) -> "tuple[QuerySet[Any], bool]":
        # In parts of a million, so that whole numbers tell two casts apart.
        share = F("lost_mg") * 1_000_000 / NullIf(F("charge_mg"), 0)
        order = share.desc(nulls_last=True) if is_descending else share.asc(nulls_first=True)
        return rows.order_by(order, "-number"), True

    def order_next_step(self, rows: "QuerySet[Any]", is_descending: bool) -> "tuple[QuerySet[Any], bool]":
        return rows.order_by("is_open" if is_descending else "-is_open", "-number"), True


class PieceTable(BaseTable):
    caption = "Pieces"
    first_step = ("Record a cast", "inventory:cast-record")

    name = TextColumn("Piece", linkify=("inventory:piece-detail", [A("pk")]))
    cast = TextColumn("Cast", accessor="cast__number")
    alloy = TextColumn("Alloy", accessor="cast__alloy__name", wide=True)
    state = TextColumn("State")
    state_on = DayColumn("Since", wide=True)
    as_cast_mg = MassColumn("As cast", wide=True)
    now_mg = MassColumn("Weighs now", accessor="holder__quantity", empty_values=(None, 0))
    metal_micro = MoneyColumn("Metal in it", accessor="holder__cost_micro", wide=True)

    class Meta:
        empty_text = "No piece yet. Pieces come from the weights after a pour."

    @cached_property
    def pictures(self) -> dict[int, int]:
        """The first picture of each piece on this page."""
        return first_pictures("piece", [row.record.pk for row in self.paginated_rows])

    def render_name(self, value: str, record: Any) -> Any:
        """With its first picture before it."""
        if record.pk not in self.pictures:
            return value
        file = reverse("inventory:picture-file", args=[self.pictures[record.pk], "small"])
        return format_html(
            '<img class="thumb" src="{}" alt="" width="48" height="48" loading="lazy">{}', file, value
        )

    def value_name(self, value: str) -> str:
        return value

    def render_cast(self, value: int) -> Any:
        return format_html('<a href="{}">{}</a>', reverse("inventory:cast-detail", args=[value]), value)

    def value_cast(self, value: int) -> int:
        return value

    def render_alloy(self, value: str, record: Any) -> str:
        return f"{value}, {record.cast.owner}" if record.cast.owner else value

    def render_metal_micro(self, value: int, record: Any) -> str:
        # To the penny it could seem to differ from the table of the cast's cost, which is rounded as a whole.
        return printing.print_money(value, 4) if record.holder.quantity else printing.NOTHING
