"""The cost rules: listed, written down, and changed."""

from typing import Any

from django.utils import timezone

from costing.forms.rules import TWICE, PolicyForm
from costing.models import Policy
from costing.queries.setup import count_casts_under, newest_policy, oldest_rules_day, policies_with_end
from costing.tables.rules import PolicyTable
from inventory.forms.sheet import Sheet
from inventory.views.records import RecordPages
from studio.kit.printing import SPACE, print_date


class Policies(RecordPages):
    """One set of rules begins on a day."""

    app, name, folder = "costing", "policy", "setup/cost-rules/"
    model, form_class, table_class = Policy, PolicyForm, PolicyTable
    title = "Cost rules"
    lead = (
        "How grams and minutes become money. Each cast is costed by the rules of its own day; "
        "what was cast before the first rules is costed by those."
    )
    filterset_class = None
    press = ("Write down new rules", "costing:policy-new")
    new_title = "New cost rules"
    record_template = "costing/rules_edit.html"
    taken = ("from_day", f"{TWICE} Look at it in the list, or write another day.")

    def get_queryset(self) -> Any:
        return policies_with_end()

    def make_sheet(self, data: Any, record: Policy | None) -> Sheet:
        if record is None:
            newest = newest_policy()
            self.is_first = newest is None
            record = newest or Policy()
            # The newest rules as a row of its own, so that only what changed must be typed.
            record.pk = None
            record._state.adding = True
            record.from_day = timezone.localdate()
        return Sheet(PolicyForm(data, instance=record))

    def describe(self, record: Policy) -> str:
        return f"Cost rules from {print_date(record.from_day).replace(SPACE, ' ')}"

    def describe_saved(self, record: Policy) -> str:
        return f"Saved: c{self.describe(record)[1:]}."

    def read_more(self, record: Policy | None) -> dict[str, Any]:
        oldest_day = oldest_rules_day()
        if record is None:
            return {"is_first": self.is_first, "oldest_day": oldest_day}
        cast_count, last_day = count_casts_under(record)
        more = {"cast_count": cast_count, "last_day": last_day, "first_day": record.from_day}
        return more | {"is_oldest": record.from_day == oldest_day}
