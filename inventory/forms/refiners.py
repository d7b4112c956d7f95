"""The form of a refiner and what they pay and charge, and how their metals are called."""

from typing import Any

from django.utils import timezone

from inventory.models import Refiner
from inventory.models.refining import is_by_weight
from inventory.posting.refining import write_terms
from inventory.queries.refining import terms_of
from studio.kit.fields import (
    DayField,
    LineField,
    MassField,
    MoneyField,
    NumberField,
    PercentField,
    PriceField,
)
from studio.kit.forms import StudioModelForm

METALS = ("silver", "gold", "platinum", "palladium", "base")
_MOST_DAYS = 365


def name_metal(metal: str) -> str:
    """ "silver"; what is paid by its weight goes by its kind."""
    return "bronze, brass and the like" if is_by_weight(metal) else metal


class RefinerForm(StudioModelForm):
    """A refiner, and the terms that hold from a day: another day writes new ones beside the old."""

    one_needed = METALS

    name = LineField(label="Name", max_length=80)
    contact = LineField(label="How to reach them", max_length=200, required=False)
    since = DayField(
        label="These terms hold from",
        initial=timezone.localdate,
        help_text="Write another day when they change: batches sent before keep the old ones.",
    )
    silver = PercentField(label="Silver: payable", required=False)
    gold = PercentField(label="Gold: payable", required=False)
    platinum = PercentField(label="Platinum: payable", required=False)
    palladium = PercentField(label="Palladium: payable", required=False)
    base = PercentField(
        label="Bronze, brass and the like: paid",
        required=False,
        help_text="Of the weight, at their price by weight. There is no assay.",
    )
    charge = MoneyField(label="Charge for a batch", required=False, help_text="The least that one costs.")
    rate = PriceField(
        default_unit="ozt",
        label="Or by its weight, if that is more",
        required=False,
        help_text="Of what they receive, such as 0.30 per ozt or 0.01 per g.",
    )
    assay_fee = MoneyField(label="Fee for the assay", required=False)
    minimum = MassField(label="Smallest batch they take", required=False)
    usual_days = NumberField("Days until they settle", 1, _MOST_DAYS, "As it usually goes.", initial=21)

    class Meta:
        model = Refiner
        fields = ["name", "contact"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for terms in terms_of(self.instance)[:1] if self.instance.pk else ():
            self.initial.update({metal: terms.payable_pct100(metal) for metal in METALS})
            self.initial.update({"since": terms.since, "usual_days": terms.usual_days})
            amounts = {"charge": terms.charge_micro, "assay_fee": terms.assay_fee_micro}
            amounts["minimum"] = terms.minimum_mg
            self.initial.update({name: amount or None for name, amount in amounts.items()})
            self.initial["rate"] = (terms.rate_micro, terms.rate_unit) if terms.rate_micro else None

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and all(cleaned.get(metal) is None for metal in METALS):
            self.add_error("silver", "Write what is payable of one metal at least, such as 95 %.")
        return cleaned

    def save(self, commit: bool = True) -> Any:
        refiner, found = super().save(commit), self.cleaned_data
        rate_micro, rate_unit = found["rate"] or (0, "ozt")
        write_terms(
            refiner,
            found["since"],
            **{f"{metal}_pct100": found[metal] for metal in METALS},
            charge_micro=found["charge"] or 0,
            rate_micro=rate_micro,
            rate_unit=rate_unit,
            assay_fee_micro=found["assay_fee"] or 0,
            minimum_mg=found["minimum"] or 0,
            usual_days=found["usual_days"],
        )
        return refiner
