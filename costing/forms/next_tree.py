"""The form of the next tree: what it is made in, and how many of each design at most. It changes nothing."""

from collections.abc import Sequence
from typing import Any

from django.forms.boundfield import BoundField

from costing.queries.next_tree import Offer
from inventory.forms.casting import offer_to
from inventory.forms.casting_fields import offer_equipment, offer_records
from inventory.forms.plans import pick_usual
from inventory.models import Alloy, Equipment
from inventory.queries.casting_choices import StudioChoices
from studio.kit.fields import CountField
from studio.kit.forms import StudioForm
from studio.kit.picks import PickField

MOST_OF_ONE = 99


class BenchForm(StudioForm):
    """What the tree is cast in: as it was last time, or the only one."""

    marks_optional = False

    alloy = PickField(label="Alloy")
    flask = PickField(label="Flask")
    crucible = PickField(label="Crucible", required=False)

    def __init__(self, data: Any, choices: StudioChoices) -> None:
        super().__init__(data)
        flasks = choices.flasks
        offer_to(self, "alloy", offer_records(choices.alloys, "Choose"))
        offer_to(self, "flask", offer_records(flasks, "Choose"))
        offer_to(self, "crucible", offer_equipment(choices.of_kind("crucible")))
        last = choices.last_cast
        self.fields["alloy"].initial = pick_usual(choices.alloys, getattr(last, "alloy_id", None))
        self.fields["flask"].initial = pick_usual(flasks, getattr(last, "flask_id", None))
        self.fields["crucible"].initial = pick_usual(
            choices.of_kind("crucible"), getattr(last, "crucible_id", None)
        )

    def said(self) -> tuple[Alloy | None, Equipment | None, Equipment | None]:
        """What was chosen, or what is usual."""
        names = ("alloy", "flask", "crucible")
        if not self.is_bound:
            alloy, flask, crucible = (self.fields[name].initial for name in names)
        else:
            self.is_valid()
            alloy, flask, crucible = (self.cleaned_data.get(name) for name in names)
        return alloy, flask, crucible


class MostForm(StudioForm):
    """How many of each design at most; as it opens, those that an order or the shelf waits for."""

    marks_optional = False

    def __init__(self, data: Any, offers: Sequence[Offer]) -> None:
        super().__init__(data)
        self.offers = [offer for offer in offers if not offer.refused]
        for offer in self.offers:
            self.fields[_name(offer)] = CountField(
                label=f"{offer.design}, at most",
                minimum=0,
                maximum=MOST_OF_ONE,
                required=False,
                initial=min(offer.wanted, MOST_OF_ONE),
            )

    def rows(self) -> list[tuple[Offer, BoundField]]:
        return [(offer, self[_name(offer)]) for offer in self.offers]

    def most(self) -> list[int]:
        """For each offer that may be cast."""
        if not self.is_bound:
            return [self.fields[_name(offer)].initial for offer in self.offers]
        self.is_valid()
        return [self.cleaned_data.get(_name(offer)) or 0 for offer in self.offers]


def _name(offer: Offer) -> str:
    return f"most-{offer.design.pk}"
