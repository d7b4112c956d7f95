"""Reads of quotes: their list, and all that one comes to. The number of queries does not depend on its lines."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from django.db.models import Prefetch, QuerySet

from costing.core.channel import Fees, Kept, compute_kept
from costing.core.others import compute_work_of_one
from costing.core.pricing import ChannelPrice
from costing.core.quote import Flasks, Lot, Range, compute_doubt, compute_range, share_flasks
from costing.models import Channel, Quote, QuoteLine
from inventory.models import Design, Studio
from inventory.queries.designs import costed_parts
from inventory.queries.setup import every, in_use
from studio.kit.models import only_one
from studio.kit.working import Working

from .designs import CostedDesign, cost_designs
from .pricing import casting_terms, core_terms

FITS_OTHERWISE = 12
"""How many castings fill a flask while no cast is closed that tells: a starting figure."""


def quotes() -> QuerySet[Quote]:
    return every(Quote).select_related("customer", "alloy", "channel").prefetch_related("lines__design")


def find_quote(pk: int) -> Quote | None:
    """With its lines; what their designs are is read with all that they cost."""
    found = every(Quote).select_related("customer", "alloy", "channel")
    lines = QuoteLine.objects.select_related("design__alloy", "design__pattern_material")
    with_designs = Prefetch("lines", lines.prefetch_related(costed_parts("design__"), "design__times"))
    return only_one(found.prefetch_related(with_designs, "plans__cast").filter(pk=pk))


def unplanned_quotes() -> QuerySet[Quote]:
    """Those in use of which no plan was made, or only plans that were given up."""
    planned = Quote.objects.filter(plans__dropped=False).values("pk")
    return Quote.objects.filter(archived=False).exclude(pk__in=planned)


def latest_quote() -> Quote | None:
    newest = every(Quote).values_list("pk", flat=True).first()
    return find_quote(newest) if newest else None


def channels_in_use(now: int | None = None) -> QuerySet[Channel]:
    return in_use(Channel, now)


def designs_to_quote(now: Sequence[Design] = ()) -> list[Design]:
    """Designs in use, and those that stand in a quote already."""
    offered = list(in_use(Design))
    return [*offered, *(one for one in now if one not in offered)]


@dataclass(frozen=True)
class Work:
    """What casting one costs a customer whose metal it is, before tax; 0 without terms."""

    micro: int
    fees: Fees
    working: Working | None = None


@dataclass(frozen=True)
class QuoteRow:
    """One line with what a piece of it costs; `costed` None where nobody knows what it weighs."""

    line: QuoteLine
    costed: CostedDesign | None
    priced: ChannelPrice | None
    fits: int
    work: Work | None = None
    is_as_cast: bool = False

    @property
    def design(self) -> Design:
        return self.line.design

    @cached_property
    def kept(self) -> Kept | None:
        """What is offered for one, and where that goes: the line's own price, or what the rule says now."""
        fees = self.work.fees if self.work else self.priced.way.fees if self.priced else None
        if fees is None:
            return None
        if self.line.price_micro:
            return compute_kept(self.line.price_micro, fees)
        if self.work:
            return compute_kept(self.work.micro, fees) if self.work.micro else None
        return self.priced.kept if self.priced else None

    @property
    def lot(self) -> Lot | None:
        if self.costed is None:
            return None
        parts, learnt = self.costed.cost.parts, self.costed.learnt
        return Lot(
            label=self.design.name,
            quantity=self.line.quantity,
            metal_micro=parts.metal_micro,
            work_micro=parts.cost_micro - parts.metal_micro,
            failed_pct100=self.costed.failed_pct100,
            doubt=compute_doubt(
                self.costed.cost.making, learnt.cast, None if self.is_as_cast else learnt.seconds
            ),
        )


@dataclass(frozen=True)
class QuoteFigures:
    """All that a quote comes to; `range` and `flasks` None while a design of it cannot be costed."""

    quote: Quote
    rows: tuple[QuoteRow, ...]

    @property
    def unknown(self) -> list[Design]:
        """Designs of which nobody knows what they weigh."""
        return [row.design for row in self.rows if row.costed is None]

    @cached_property
    def lots(self) -> list[Lot]:
        return [lot for row in self.rows if (lot := row.lot) is not None]

    @cached_property
    def range(self) -> Range | None:
        return None if self.unknown or not self.rows else compute_range(self.lots)

    @cached_property
    def flasks(self) -> Flasks | None:
        if self.unknown or not self.rows:
            return None
        return share_flasks(
            [(lot.label, lot.castings, row.fits) for lot, row in zip(self.lots, self.rows, strict=True)]
        )

    def add_up(self, of_one: str) -> int | None:
        """A part of the price over all pieces: "told_micro", "paid_micro", "tax_micro", "left_micro"."""
        kept = [row.kept for row in self.rows]
        if None in kept:
            return None
        return sum(getattr(one, of_one) * row.line.quantity for one, row in zip(kept, self.rows, strict=True))

    @property
    def notes(self) -> list[str]:
        found = [note for row in self.rows if row.costed for note in row.costed.notes]
        if any(row.work and not row.work.micro for row in self.rows):
            found.append(
                "No terms of casting for others are written down, so nothing says what to ask for it."
            )
        found += [row.priced.problem for row in self.rows if row.priced and row.priced.problem]
        return list(dict.fromkeys(found))


def read_figures(quote: Quote, studio: Studio | None = None) -> QuoteFigures:
    """Of a quote with its lines and their designs, as `find_quote` reads it."""
    lines = list(quote.lines.all())
    costed = cost_designs([(line.design, quote.alloy) for line in lines], studio, quote.own_metal)
    rows = []
    for line, one in zip(lines, costed, strict=True):
        fits = line.fits or max(one.learnt.most_together if one else 0, _usual_fit(one))
        is_sold = one is not None and not quote.own_metal
        priced = one.price_in(quote.channel_id) if one and is_sold else None
        rows.append(QuoteRow(line, one, priced, fits, is_as_cast=quote.own_metal))
    figures = QuoteFigures(quote, tuple(rows))
    return _as_work(figures) if quote.own_metal and figures.flasks else figures


def _as_work(figures: QuoteFigures) -> QuoteFigures:
    """The same priced as casting for others, by the first terms: what the grams and the flasks of all of it cost."""
    terms = casting_terms().first()
    known = [(row, row.costed) for row in figures.rows if row.costed is not None]
    whole_mg = sum(one.learnt.cast.value * row.line.quantity for row, one in known)
    flasks = figures.flasks.count if figures.flasks else 0
    rows = []
    for row, one in known:
        tax_pct100, unit = one.book.policy.tax_pct100, one.book.usual.fees.unit_micro
        fees = Fees(label="Casting for others", tax="out", tax_pct100=tax_pct100, unit_micro=unit)
        work = Work(0, fees)
        if terms is not None:
            told = compute_work_of_one(one.learnt.cast.value, whole_mg, flasks, core_terms(terms), unit)
            work = Work(told[0], fees, told[1])
        rows.append(replace(row, work=work))
    return QuoteFigures(figures.quote, tuple(rows))


def _usual_fit(costed: CostedDesign | None) -> int:
    """How many castings a flask of the last casts had on average; a starting figure before there is any."""
    if costed is None or not costed.cost.making.lately.casts:
        return FITS_OTHERWISE
    lately = costed.cost.making.lately
    return max(lately.pieces // lately.casts, 1)


def lines_offered() -> QuerySet[QuoteLine]:
    """Lines with a kept price, of quotes in the studio's own metal that are in use and not planned yet."""
    rows = QuoteLine.objects.filter(
        price_micro__isnull=False,
        quote__archived=False,
        quote__own_metal=False,
        quote__plans__isnull=True,
    )
    return rows.select_related("quote__alloy").order_by("-quote", "place", "pk")
