"""Forms of reclaim: what the studio melts as it is, failed castings cleaned, and what goes into and out of a tin."""

from typing import Any

from django import forms

from inventory.models import Alloy, Customer, Lot, Studio, Tin
from inventory.posting.setup import reclaim_material
from inventory.queries.ledger import name_lot
from inventory.queries.setup import in_use
from inventory.queries.tins import fitting_lots, tins_for
from studio.kit.fields import LineField, PercentField, RecordsField
from studio.kit.forms import OnceMixin, StudioForm, StudioModelForm
from studio.kit.printing import print_mass

from .stock import LotActionForm, NoteLine, ReceivedDayField

_SORTS = {
    Lot.Origin.CLEAN: ("buttons and sprues", "They went through the crucible here and are clean metal."),
    Lot.Origin.FAILED: (
        "failed castings, not cleaned",
        "Common practice is to clean them first: investment gives off sulphur in the melt.",
    ),
    Lot.Origin.SPILL: (
        "spills",
        "They took up what lay where they fell, so this starts at no. Tick it if you pickle yours clean.",
    ),
    Lot.Origin.FILINGS: (
        "filings",
        "Common practice is to refine them: steel, solder and grit are among them.",
    ),
    Lot.Origin.SWEEPS: ("sweeps", "Mostly dust: they are refined, never melted as they are."),
}


class ReclaimSettingsForm(StudioModelForm):
    """Which kinds of reclaim may be melted as they are, what of them is metal, and whether tins fill by themselves."""

    class Meta:
        model = Studio
        fields = [
            *(name for kind in Lot.RECLAIM for name in (f"melt_{kind}", f"metal_{kind}_pct100")),
            "fills_tins",
        ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind in Lot.RECLAIM:
            words, why = _SORTS[kind]
            self.fields[f"melt_{kind}"] = forms.BooleanField(
                label=f"{words[:1].upper()}{words[1:]} may be melted as they lie there",
                help_text=why,
                required=False,
            )
            self.fields[f"metal_{kind}_pct100"] = PercentField(
                label=f"Metal in {words}",
                help_text="Of what it weighs. No gram moves by it: it says what a refiner may find.",
            )
        self.fields["fills_tins"] = forms.BooleanField(
            label="A cast's buttons and sprues go into the open tin of its alloy by themselves",
            help_text="With the weights after the pour. Without a tin for that alloy they stay a lot of their own.",
            required=False,
        )


class CleanedForm(LotActionForm):
    """Failed castings or a tin of buttons, weighed without investment."""

    amount, amount_label = "mass", "What they weigh now, all of them"
    amount_help = "Cleaned and dry. What they weigh less then counts as lost when they were poured."


class IntoTinForm(LotActionForm):
    """All of a lot into a tin."""

    tin: Any = forms.ModelChoiceField(
        None,
        label="Tin",
        empty_label="Choose",
        help_text="All of it goes in, and lies together with what is there.",
        error_messages={"required": "Choose the tin."},
    )
    field_order = ["tin", "day", "note"]

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, lot=lot, **kwargs)
        field: Any = self.fields["tin"]
        field.queryset = tins_for(lot)
        if len(field.queryset) == 1:
            self.initial["tin"] = field.queryset[0]


class TinForm(StudioModelForm):
    """A tin: its name, and what it takes."""

    name = LineField(label="Name", max_length=60, help_text="As it is written on the lid.")
    alloy = forms.ModelChoiceField(in_use(Alloy), label="Alloy", empty_label="Choose")
    kind = forms.ChoiceField(
        label="What goes in",
        choices=[(kind.value, kind.label) for kind in Lot.IN_TINS],
        help_text="Failed castings are cleaned first: then they are clean reclaim.",
    )
    owner = forms.ModelChoiceField(
        in_use(Customer), label="Whose metal", empty_label="the studio's own", required=False
    )

    class Meta:
        model = Tin
        fields = ["name", "kind", "owner"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["name", "alloy", "kind", "owner"])
        if self.instance.pk:
            # What lies in it was put in as what it says.
            for name in ("alloy", "kind", "owner"):
                del self.fields[name]

    def save(self, commit: bool = True) -> Tin:
        if not self.instance.pk:
            self.instance.material = reclaim_material(self.cleaned_data["alloy"])
        saved: Tin = super().save(commit)
        return saved


class _LotsField(RecordsField):
    """Lots to tick, each with what it holds."""

    def label_from_instance(self, lot: Lot) -> str:
        return f"{name_lot(lot)}: {print_mass(lot.holder.quantity)}"


class PutInForm(OnceMixin, StudioForm):
    """Lots that go into a tin, all of each."""

    lots = _LotsField(
        None,
        label="Lots that go in",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one lot to put in."},
    )
    day = ReceivedDayField()
    note = NoteLine()

    def __init__(self, *args: Any, tin: Tin, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["lots"]
        field.queryset = fitting_lots(tin)
        if not field.queryset.exists():
            field.help_text = "None is here now: lots of the same metal, kind and owner go in together."


class TakeOutForm(LotActionForm):
    """So much out of a tin, by weight."""

    amount, amount_label = "quantity", "How much"
    amount_help = "It becomes a lot of its own, of the same make as what stays."
