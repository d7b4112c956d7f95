"""The cost rules: listed, written down, and changed."""

from typing import Any

from django.utils import timezone

from costing.forms.rules import TWICE, PolicyForm
from costing.models import Policy
from costing.queries.setup import count_casts_under, newest_policy, oldest_rules_day, policies_with_end
from costing.tables.rules import PolicyTable
from inventory.views.records import RecordCreate, RecordUpdate
from studio.kit.forms import list_mistakes
from studio.kit.listing import ListingView
from studio.kit.printing import SPACE, print_date

from .saving import DatedRecordMixin


class PolicyList(ListingView):
    title = "Cost rules"
    lead = (
        "How grams and minutes become money. Each cast is costed by the rules of its own day; "
        "what was cast before the first rules is costed by those."
    )
    table_class = PolicyTable
    press = ("Write down new rules", "costing:policy-new")

    def get_queryset(self) -> Any:
        return policies_with_end()


class _PolicyMixin(DatedRecordMixin):
    model = Policy
    form_class = PolicyForm
    list_name = "costing:policy-list"
    list_label = "Cost rules"
    template_name = "costing/rules_edit.html"
    day_field = "from_day"
    taken = TWICE

    def word_record(self, record: Policy) -> str:
        return f"cost rules from {print_date(record.from_day).replace(SPACE, ' ')}"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        return {**context, "mistakes": list_mistakes(context["form"])}


class PolicyCreate(_PolicyMixin, RecordCreate):
    title = "New cost rules"

    def get_form_kwargs(self) -> dict[str, Any]:
        newest = newest_policy()
        self.is_first = newest is None
        start = newest or Policy()
        # The newest rules as a row of its own, so that only what changed must be typed.
        start.pk = None
        start._state.adding = True
        start.from_day = timezone.localdate()
        return {**super().get_form_kwargs(), "instance": start}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        # The form is made first: it knows whether there were rules to start from.
        context = super().get_context_data(**kwargs)
        return {**context, "is_first": self.is_first, "oldest_day": oldest_rules_day()}


class PolicyUpdate(_PolicyMixin, RecordUpdate):
    def get_object(self, queryset: Any = None) -> Policy:
        policy: Policy = super().get_object(queryset)
        self.saved_name = f"C{self.word_record(policy)[1:]}"
        self.first_day = policy.from_day
        self.cast_count, self.last_day = count_casts_under(policy)
        return policy

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        # As they were opened: the form may have written another day into them.
        is_oldest = self.first_day == oldest_rules_day()
        kwargs |= {"cast_count": self.cast_count, "last_day": self.last_day}
        return super().get_context_data(first_day=self.first_day, is_oldest=is_oldest, **kwargs)
