"""The form for a firing."""

from typing import Any

from django import forms

from inventory.models import Cast, Firing
from inventory.posting.setup import put_in_firing
from inventory.queries.firing import casts_for_firing
from inventory.queries.records import every, kilns_in_use
from studio.kit.fields import EnergyField, LineField, MinutesField, PastDayField, PercentField, RecordsField
from studio.kit.forms import StudioModelForm

from .equipment import WATTS_MAX

WEEK_MINUTES = 7 * 24 * 60
METER_MAX_WH = 10_000_000_000


class CastChoiceField(RecordsField):
    def label_from_instance(self, cast: Any) -> str:
        return f"Cast {cast.number}, {cast.title}"


class FiringForm(StudioModelForm):
    """The meter before and after, or the kiln's power; what is left empty of that is taken from the kiln."""

    kiln = forms.ModelChoiceField(kilns_in_use(), empty_label="Choose")
    day = PastDayField(label="Day it began")
    minutes = MinutesField(
        label="Time in the kiln",
        minimum=1,
        maximum=WEEK_MINUTES,
        help_text="From switching on to the pour, such as 11 h or 10:45.",
    )
    meter_before_wh = EnergyField(
        label="Meter before", required=False, maximum=METER_MAX_WH, help_text="As it reads, in kWh."
    )
    meter_after_wh = EnergyField(label="Meter after", required=False, maximum=METER_MAX_WH)
    rated_w = forms.IntegerField(
        label="Power, in watts",
        required=False,
        min_value=1,
        max_value=WATTS_MAX,
        help_text="Only where no meter was read. Left empty, it is the kiln's own.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    share_on_pct100 = PercentField(
        label="Share of the time that it heated",
        required=False,
        minimum=1,
        help_text="Left empty, it is the kiln's own.",
    )
    casts = CastChoiceField(
        queryset=every(Cast),
        label="Casts in it",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="The energy and the kiln's wear are shared over them.",
    )
    note = LineField(label="Note", required=False, max_length=500)

    class Meta:
        model = Firing
        fields = [
            "kiln",
            "day",
            "minutes",
            "meter_before_wh",
            "meter_after_wh",
            "rated_w",
            "share_on_pct100",
            "note",
        ]

    field_order = [*Meta.fields[:-1], "casts", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kilns: Any = self.fields["kiln"]
        kilns.queryset = kilns_in_use(self.instance.kiln_id)
        casts: Any = self.fields["casts"]
        casts.queryset = casts_for_firing(self.instance)
        if self.instance.pk:
            self.initial["casts"] = [cast.pk for cast in self.instance.casts.all()]
        if not casts.queryset.exists():
            del self.fields["casts"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        before, after = cleaned.get("meter_before_wh"), cleaned.get("meter_after_wh")
        if before is None and after is not None and "meter_before_wh" in cleaned:
            self.add_error("meter_before_wh", "Write the meter before too, or leave both empty.")
        elif after is None and before is not None and "meter_after_wh" in cleaned:
            self.add_error("meter_after_wh", "Write the meter after too, or leave both empty.")
        elif before is not None and after is not None and after < before:
            self.add_error("meter_after_wh", "A meter does not run backwards. Look at both readings again.")
        return cleaned

    def save(self, commit: bool = True) -> Firing:
        firing: Firing = super().save(commit)
        put_in_firing(firing, self.cleaned_data.get("casts", ()))
        return firing
