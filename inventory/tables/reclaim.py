"""Tables of tins, and of what lies in one."""

from django.urls import reverse
from django_tables2 import A

from inventory.models import Tin
from inventory.queries.tins import Ingredient
from studio.kit.columns import DayColumn, MassColumn, TextColumn
from studio.kit.tables import BaseTable

_EMPTY = (None, "", 0)


class TinTable(BaseTable):
    """Tins, one a row."""

    name = TextColumn("Tin", linkify=("inventory:tin-detail", {"pk": A("pk")}))
    alloy = TextColumn("Alloy", accessor="material__alloy__name")
    kind = TextColumn("What goes in", wide=True)
    owner = TextColumn("Whose", accessor="owner__name", default="own", wide=True)
    held = MassColumn("In it", empty_values=_EMPTY)
    state = TextColumn("State", accessor="is_open", wide=True)

    caption = "Tins"
    first_step = ("Begin a tin", "inventory:tin-new")

    class Meta:
        empty_text = "There is no tin yet: each button lies as a lot of its own."
        order_by = "name"

    def render_state(self, record: Tin) -> str:
        return "open" if record.is_open else "closed"


class IngredientTable(BaseTable):
    """What a tin was put together from."""

    lot = TextColumn("Lot", accessor="lot__pk", linkify=("inventory:lot-detail", {"pk": A("lot__pk")}))
    cast = TextColumn(
        "Cast",
        accessor="lot__from_cast__number",
        linkify=lambda record: (
            reverse("inventory:cast-detail", args=[record.lot.from_cast.number])
            if record.lot.from_cast
            else None
        ),
        default="–",
    )
    day = DayColumn("Came", accessor="lot__received_on", wide=True)
    mass = MassColumn("Still in it", accessor="mass_mg")

    caption = "What it came from, by its share of what is left"
    total_label = "In the tin"

    class Meta:
        empty_text = "It is empty."

    def render_lot(self, record: Ingredient) -> str:
        return f"Lot {record.lot.pk}"
