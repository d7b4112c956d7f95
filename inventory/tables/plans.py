"""The list of plans."""

from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.models import Plan
from studio.kit.columns import MassColumn, MomentColumn, TextColumn
from studio.kit.printing import print_moment
from studio.kit.tables import BaseTable


class WishColumn(MomentColumn):
    """The moment that a casting day is planned around, and which it is."""

    def render(self, value: datetime, record: Plan) -> str:  # type: ignore[override]  # tables2 hands over what is asked for
        return f"{record.day.get_wish_display()} {super().render(value)}"


class PlanTable(BaseTable):
    """Rows come from `plans`."""

    caption = "Plans"

    title = TextColumn("What is planned")
    when = WishColumn("When", accessor="day__wish_at", wide=True)
    alloy = TextColumn(wide=True)
    flask = TextColumn(wide=True)
    metal_mg = MassColumn("Metal")
    state = TextColumn("State", accessor="pk", orderable=False)

    class Meta:
        empty_text = "No cast is planned. Plan one, and see whether all that it needs is here."
        order_by = "-when"

    def render_title(self, value: str, record: Plan) -> SafeString:
        """On a phone the moment stands under the title, for a plan without it tells little."""
        address = reverse("inventory:plan-detail", args=[record.pk])
        when = print_moment(timezone.localtime(record.day.wish_at))
        words = f"{record.day.get_wish_display()} {when}"
        return format_html(
            '<a href="{}">{}</a><span class="help narrow-only">{}</span>', address, value, words
        )

    def value_title(self, value: str) -> str:
        return value

    def render_alloy(self, value: Any, record: Plan) -> str:
        return f"{value}, {record.owner}" if record.owner else str(value)

    def render_state(self, record: Plan) -> str | SafeString:
        if record.cast is not None:
            address = reverse("inventory:cast-detail", args=[record.cast.number])
            return format_html('begun: <a href="{}">cast {}</a>', address, record.cast.number)
        if record.dropped:
            return "given up"
        return "open" if record.holds else "open, holds nothing"

    def value_state(self, record: Plan) -> str:
        if record.cast is not None:
            return f"begun: cast {record.cast.number}"
        return str(self.render_state(record))
