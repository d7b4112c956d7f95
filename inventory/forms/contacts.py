"""Forms for suppliers and customers."""

from django import forms

from inventory.models import Customer, Supplier
from studio.kit.fields import LineField
from studio.kit.forms import StudioModelForm

DAYS_MAX = 365


class SupplierForm(StudioModelForm):
    name = LineField(label="Name", max_length=80)
    lead_time_days = forms.IntegerField(
        label="Days a parcel takes",
        min_value=0,
        max_value=DAYS_MAX,
        help_text="From the order to the bench, as it usually goes.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    lead_time_spread_days = forms.IntegerField(
        label="Give or take, in days",
        min_value=0,
        max_value=DAYS_MAX,
        help_text="How much earlier or later it may be. It decides how early to order.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    contact = LineField(label="How to reach them", max_length=200, required=False)

    class Meta:
        model = Supplier
        fields = ["name", "lead_time_days", "lead_time_spread_days", "contact"]


class CustomerForm(StudioModelForm):
    name = LineField(label="Name", max_length=80)
    contact = LineField(label="How to reach them", max_length=200, required=False)

    class Meta:
        model = Customer
        fields = ["name", "contact"]
