"""The forms of a quote: what is asked for, and how its flasks are planned."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.utils import timezone

from costing.models import Quote
from costing.queries.quotes import QuoteFigures, channels_in_use, designs_to_quote, find_quote, latest_quote
from inventory.forms.casting_fields import offer_records
from inventory.forms.plans import PlanForm
from inventory.forms.sheet import Sheet
from inventory.models import Alloy, Customer, Design, Equipment, Material
from inventory.queries.casting_choices import PlanChoices
from inventory.queries.plans import DayDraft, PartDraft, PlanDraft, evening_of
from inventory.queries.setup import in_use
from studio.kit.fields import NUMBER_MAX, CountField, DayField, LineField, MoneyField, NoteField, NumberField
from studio.kit.forms import StudioModelForm
from studio.kit.picks import Options, PickField
from studio.kit.printing import print_day, print_minutes
from studio.kit.reporting import RecordReportForm
from studio.kit.rows import RowForm, make_rows
from studio.kit.units import PCT100_WHOLE, SECONDS_PER_MINUTE, divide_half_up

MOST_QUOTED = 1_000
SPRUES = "Sprues and stem"


class QuoteForm(StudioModelForm):
    marks_optional = False

    name = LineField(label="What it is for", max_length=100, help_text="Such as Spring order.")
    wanted_on = DayField(label="Wanted on", required=False)
    note = NoteField(label="Note", required=False)

    class Meta:
        model = Quote
        fields = ["name", "customer", "own_metal", "alloy", "channel", "wanted_on", "note"]
        labels = {"customer": "For", "own_metal": "The metal is theirs", "channel": "Sold through"}
        help_texts = {
            "own_metal": "Then it is priced by your terms of casting for others, and not by a channel.",
            "channel": "Its fees and its rule make the price. Left empty, your usual one.",
        }

    def clean(self) -> dict[str, Any]:
        found = super().clean() or self.cleaned_data
        if found.get("own_metal") and found.get("customer") is None and "customer" not in self.errors:
            self.add_error("own_metal", "Choose whose metal it is, as the one whom the quote is for.")
        return found

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        quote = self.instance
        fields["customer"].queryset = in_use(Customer, quote.customer_id)
        fields["customer"].empty_label = "nobody yet"
        fields["alloy"].queryset = in_use(Alloy, quote.alloy_id)
        fields["alloy"].empty_label = "Choose"
        fields["channel"].queryset = channels_in_use(quote.channel_id)
        fields["channel"].empty_label = "the usual one"
        if quote.made_on is None:
            quote.made_on = timezone.localdate()


class QuoteRow(RowForm):
    seldom = ("price", "fits")

    design = PickField(label="Design")
    quantity = CountField(label="How many", minimum=1, maximum=MOST_QUOTED)
    price = MoneyField(
        label="Price of one", required=False, minimum=1, help_text="Left empty, what the rule says."
    )
    fits = CountField(
        label="How many fill a flask",
        required=False,
        minimum=1,
        maximum=MOST_QUOTED,
        help_text="Left empty, as many as came out of one so far.",
    )

    def __init__(self, *args: Any, options: Options | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["design"].offer(options or Options())  # type: ignore[attr-defined]  # a pick


LinesFormSet = make_rows(
    QuoteRow,
    empty=2,
    row_word="Design",
    add_label="Add another design",
    least=1,
    nothing_written="Choose at least one design, and how many of it.",
)


class QuoteSheet(Sheet):
    def __init__(self, data: Any = None, quote: Quote | None = None) -> None:
        lines = list(quote.lines.all()) if quote else []
        rows = LinesFormSet(
            data,
            prefix="lines",
            initial=[
                {"design": one.design, "quantity": one.quantity, "price": one.price_micro, "fits": one.fits}
                for one in lines
            ],
            form_kwargs={"options": offer_records(designs_to_quote([one.design for one in lines]), "Choose")},
        )
        if lines and not rows.is_bound:
            rows.extra = 0
        super().__init__(QuoteForm(data, instance=quote), lines=rows)

    def is_valid(self) -> bool:
        return super().is_valid() and self._check_twice()

    def _check_twice(self) -> bool:
        seen: set[Design] = set()
        for place, (design, *_) in enumerate(self.lines()):
            if design in seen:
                self.rows["lines"].refuse(
                    "This design stands here twice. Write it in one line.", "design", place
                )
                return False
            seen.add(design)
        return True

    def lines(self) -> list[tuple[Design, int, int | None, int | None]]:
        return [
            (row["design"], row["quantity"], row["price"], row["fits"])
            for row in self.rows["lines"].written()
        ]


class QuotePlanForm(PlanForm):
    """Everything that the flasks of a quote have alike: where each stands, and when they are poured."""

    _OF_ONE_TREE = (
        *("title", "alloy", "sprues", "sprues_of", "whole", "base", "owner"),
        *("tree_height", "tree_width", "note"),
    )

    def __init__(self, data: Any, choices: PlanChoices, figures: QuoteFigures) -> None:
        """The evening before the pieces are wanted is offered, or tomorrow's where that is gone or not known."""
        wanted = figures.quote.wanted_on
        before = wanted - timedelta(days=1) if wanted else None
        is_ahead = before is not None and before > timezone.localdate()
        first = {"wish_at": evening_of(before)} if before is not None and is_ahead else {}
        super().__init__(data, choices=choices, initial=first)
        if wanted:
            until = "this is the evening before, the latest" if is_ahead else "too soon to cast before it"
            said = f"Wanted on {print_day(wanted, with_year=True)}: {until}.{_say_bench(figures)}"
            self.fields["wish_at"].help_text = said
        for name in self._OF_ONE_TREE:
            self.fields.pop(name, None)

    def usual(self) -> dict[str, Any]:
        """What it offers, as if it had been sent: the schedule is then the one that fits."""
        said = {name: self.get_initial_for_field(field, name) for name, field in self.fields.items()}
        self.cleaned_data = said
        if not said.get("schedule"):
            self._find_schedule(said)
        return said


def _say_bench(figures: QuoteFigures) -> str:
    """How much finishing stands between the pour and the day, as far as the designs know."""
    costed = [(row.costed, row.line.quantity) for row in figures.rows if row.costed is not None]
    seconds = sum(one.cost.making.own_seconds * quantity for one, quantity in costed)
    return (
        f" All of it takes {print_minutes(seconds // SECONDS_PER_MINUTE)} at the bench after that."
        if seconds
        else ""
    )


def draft_flasks(
    figures: QuoteFigures, form: QuotePlanForm, said: dict[str, Any], sprues_pct100: int
) -> list[PlanDraft]:
    """The flasks of a quote as plans would have them; none while flask, powder, kiln or a pattern is not known."""
    if figures.flasks is None:
        return []
    form.cleaned_data = said
    day = form.day_said()
    if day is None or said.get("flask") is None or said.get("powder") is None:
        return []
    drafts, alike = [], flasks_like(said["flask"], form.choices.flasks)
    firings = spread_firings(day, -(-figures.flasks.count // len(alike)))
    for number, castings in enumerate(figures.flasks.castings, start=1):
        firing, place = divmod(number - 1, len(alike))
        parts = _parts_of(figures, castings, sprues_pct100, form.choices.patterns)
        if not parts:
            return []
        title = f"{figures.quote}, flask {number}" if figures.flasks.count > 1 else str(figures.quote)
        drafts.append(
            PlanDraft(
                title=title[:120],
                alloy=figures.quote.alloy,
                flask=alike[place],
                powder=said["powder"],
                parts=tuple(parts),
                day=firings[firing],
                owner=figures.quote.customer if figures.quote.own_metal else None,
                button_pct100=said.get("button") or form.choices.practice.button_pct100,
                crucible=said.get("crucible"),
                machine=said.get("machine"),
                pump=said.get("pump"),
                note=str(figures.quote),
            )
        )
    return drafts


def spread_firings(last: DayDraft, count: int) -> list[DayDraft]:
    """So many firings on days one after another, as a flask stands in each of them once.

    The last is when it was wished for, if the first is still to come; else the first is.
    """
    wish_at = timezone.localtime(last.wish_at)
    first = wish_at - timedelta(days=count - 1)
    if first <= timezone.now():
        first = wish_at
    return [replace(last, wish_at=first + timedelta(days=days)) for days in range(count)]


def flasks_like(flask: Equipment, offered: Iterable[Equipment]) -> list[Equipment]:
    """The flask that was chosen, and the others of its size."""
    size = (flask.diameter_um, flask.height_um)
    others = [one for one in offered if one != flask and (one.diameter_um, one.height_um) == size]
    return [flask, *others]


def _parts_of(
    figures: QuoteFigures, castings: Sequence[int], sprues_pct100: int, patterns: Sequence[Material]
) -> list[PartDraft]:
    parts: list[PartDraft] = []
    for row, count in zip(figures.rows, castings, strict=True):
        learnt = row.costed.learnt if row.costed else None
        material = row.design.pattern_material
        if learnt is None or material is None or not learnt.pattern_mg:
            return []
        if count:
            parts.append(
                PartDraft(row.design.name, material, learnt.pattern_mg * count, count, design=row.design)
            )
    sprues_mg = divide_half_up(sum(part.mass_mg for part in parts) * sprues_pct100, PCT100_WHOLE)
    if sprues_mg:
        parts.append(PartDraft(SPRUES, parts[0].material, sprues_mg, is_piece=False))
    return parts


class QuoteReportForm(RecordReportForm):
    quote = NumberField("Quote", 1, NUMBER_MAX, "Its number. Left empty: the latest.", required=False)

    record = "quote"
    none_yet = "No quote is written down yet."
    unknown = "There is no quote {}."

    def find(self, number: int | None) -> Any:
        return latest_quote() if number is None else find_quote(number)
