"""The forms for what pure metal costs, typed one by one or pasted, and for what a maker asks on top of it."""

from typing import Any

from django import forms
from django.utils import timezone

from costing.core.metal_price import DatedPrice
from costing.core.price import compute_price_per_kg, word_price_per_kg
from costing.forms.price_lines import ReadLines, read_price_lines
from costing.models import AlloyPremium, FinePrice
from costing.models.prices import PRECIOUS
from costing.queries.metal_price import days_with_price, precious_alloys
from inventory.queries.setup import find_twin
from studio.kit.fields import PastDayField, PercentField, PriceField
from studio.kit.forms import StudioForm, StudioModelForm
from studio.kit.money import PRICE_UNITS
from studio.kit.printing import print_date, print_exact_money

from .rules import PRICE_TWICE, say_twice

TEXT_MAX = 200_000
PREMIUM_MAX_PCT100 = 100_000
SHOWN_PROBLEMS = 20


class FinePriceForm(StudioModelForm):
    """One price of a pure metal for a day; a second one is led to the first."""

    day = PastDayField(label="Day", help_text="The day of this price.")
    price = PriceField(
        label="Price of pure metal",
        minimum=1,
        default_unit="ozt",
        help_text="Such as 28.40 per ozt or 0.91 per g. A bare number is per ounce troy.",
    )

    class Meta:
        model = FinePrice
        fields = ["metal", "day"]
        labels = {"metal": "Metal"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.initial["price"] = (self.instance.price_micro, self.instance.per_unit)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("metal") and cleaned.get("day"):
            other = find_twin(self.instance, metal=cleaned["metal"], day=cleaned["day"])
            if other:
                self.add_error("day", say_twice(PRICE_TWICE, other, "fine-price", "that price"))
        return cleaned

    def save(self, commit: bool = True) -> Any:
        self.instance.price_micro, self.instance.per_unit = self.cleaned_data["price"]
        return super().save(commit)


class FinePasteForm(StudioForm):
    """Many days at once, pasted or from a file: what was understood is asked about before it is kept."""

    metal = forms.ChoiceField(choices=PRECIOUS, label="Metal")
    unit = forms.ChoiceField(
        choices=[(unit, unit) for unit in PRICE_UNITS],
        label="A bare price is per",
        initial="ozt",
        help_text="A line may say its own, such as 0.91 per g.",
    )
    lines = forms.CharField(
        label="Days and prices, one a line",
        widget=forms.Textarea(attrs={"rows": "10", "class": "number", "autocomplete": "off"}),
        max_length=TEXT_MAX,
        required=False,
        help_text="Such as 2026-11-01 28.40. A comma, semicolon or tab between them will do, too.",
    )
    file = forms.FileField(
        label="Or a CSV file of such lines",
        required=False,
        help_text="The first column the day, the second the price. It is read into the field above.",
        error_messages={"empty": "This file is empty."},
    )

    def __init__(self, data: Any = None, files: Any = None, **kwargs: Any) -> None:
        self.file_problem, self.read = "", ReadLines((), ())
        sent = files.get("file") if files else None
        if data is not None and sent is not None:
            text, self.file_problem = _read_file(sent)
            if text:
                data = data.copy()
                data["lines"] = text
        super().__init__(data, files, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.file_problem:
            self.add_error("file", self.file_problem)
        if "lines" not in cleaned or not cleaned.get("unit") or self.file_problem:
            return cleaned
        self.read = read_price_lines(cleaned["lines"], cleaned["unit"], timezone.localdate())
        for sentence in self.read.problems[:SHOWN_PROBLEMS]:
            self.add_error("lines", sentence)
        more = len(self.read.problems) - SHOWN_PROBLEMS
        if more > 0:
            self.add_error("lines", f"And {more:,} more lines cannot be taken.")
        if not self.read.prices and not self.read.problems:
            self.add_error("lines", "Write at least one line, such as 2026-11-01 28.40.")
        return cleaned

    def replaced(self) -> dict[Any, DatedPrice]:
        """Prices that are there already and say something else, by day."""
        prices = self.read.prices
        now = days_with_price(self.cleaned_data["metal"], prices[0].day, prices[-1].day)
        return {price.day: now[price.day] for price in prices if now.get(price.day, price) != price}

    def doubts(self) -> dict[str, str]:
        prices, replaced = self.read.prices, self.replaced()
        amounts = [price.exact_per_kg for price in prices]
        low, high = prices[amounts.index(min(amounts))], prices[amounts.index(max(amounts))]
        days = "1 day" if len(prices) == 1 else f"{len(prices):,} days"
        said = (
            f"{days} of {self.cleaned_data['metal']}, {print_date(prices[0].day)} to {print_date(prices[-1].day)}, "
            f"from {low.words} to {high.words}."
        )
        if replaced:
            first = next(iter(replaced))
            was = print_exact_money(replaced[first].price_micro)
            count = "One of them has" if len(replaced) == 1 else f"{len(replaced):,} of them have"
            said += f" {count} another price already, which is replaced: {print_date(first)} was {was}."
        return {"lines": said}


def _read_file(sent: Any) -> tuple[str, str]:
    """The text of a file, or what is wrong with it."""
    if sent.size > TEXT_MAX:
        return "", f"This file is too large. Take at most {TEXT_MAX // 1000} kB at a time."
    try:
        text = sent.read().decode("utf-8-sig")
    except UnicodeDecodeError:
        return "", "This is no text that can be read. Save it as CSV in UTF-8."
    return ("", "This file holds no text.") if "\x00" in text or not text.strip() else (text, "")


class PremiumForm(StudioModelForm):
    """What the maker of an alloy asks on top of its pure metal."""

    share_pct100 = PercentField(
        label="A share of the pure metal",
        maximum=PREMIUM_MAX_PCT100,
        help_text="Such as 4 %. Write 0 where the maker asks none.",
    )
    per_gram = PriceField(
        label="And so much for each gram of alloy",
        required=False,
        help_text="Such as 0.05 per g or 50 per kg. Left empty, there is none.",
    )

    class Meta:
        model = AlloyPremium
        fields = ["alloy", "share_pct100"]
        labels = {"alloy": "Alloy"}

    def __init__(self, data: Any = None, instance: AlloyPremium | None = None, **kwargs: Any) -> None:
        super().__init__(data, instance=instance or AlloyPremium(), **kwargs)
        alloys: Any = self.fields["alloy"]
        alloys.queryset = precious_alloys(self.instance.alloy_id)
        alloys.error_messages["unique"] = "This alloy has a premium already. Change that one."
        if self.instance.pk and self.instance.micro_per_kg:
            self.initial["per_gram"] = word_price_per_kg(self.instance.micro_per_kg)

    def save(self, commit: bool = True) -> Any:
        per_gram = self.cleaned_data["per_gram"]
        self.instance.micro_per_kg = compute_price_per_kg(*per_gram) if per_gram else 0
        return super().save(commit)
