"""Metal over a time: what was here and what came in is what went out and what is here, and each cast's loss."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from costing.core.metal_account import (
    CAME_LABELS,
    HELD_LABELS,
    WENT_LABELS,
    Key,
    MetalAccount,
    check_account,
    compute_accounts,
)
from costing.queries.metal import late_bills_on_used, metal_flows
from costing.queries.policy import all_policies, policy_on
from inventory.core.ledger import Amount, total_of
from inventory.core.weighing import compute_share_pct100
from inventory.models import Alloy, Cast, Customer
from inventory.queries.casting import casts_with_grams
from inventory.queries.studio import current_studio
from studio.kit.chart_loss import LossPoint, loss_chart
from studio.kit.documents import Block, Column, Document, Heading, Prose, Table
from studio.kit.fields import PastDayField
from studio.kit.forms import StudioForm
from studio.kit.printing import print_day, print_money, print_percent
from studio.kit.reporting import Report, register

CHART_CASTS = 40


class MetalLossForm(StudioForm):
    """From a day to a day, the last twelve months when left empty; one alloy or all."""

    marks_optional = False
    first = PastDayField(label="From", required=False)
    last = PastDayField(label="To", required=False)
    alloy = forms.ModelChoiceField(Alloy.objects.all(), label="Alloy", required=False, empty_label="All")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        last = cleaned.get("last") or timezone.localdate()
        first = cleaned.get("first") or last - timedelta(days=364)
        if first > last and "first" not in self.errors:
            self.add_error("first", "This is after the last day. Write an earlier one.")
        cleaned["first"], cleaned["last"] = first, last
        return cleaned


def build_metal_loss(params: Mapping[str, Any]) -> Document:
    """The document of a time. `params` is the cleaned data of MetalLossForm."""
    first, last, alloy = params["first"], params["last"], params.get("alloy")
    studio = current_studio()
    accounts = compute_accounts(metal_flows(first, last))
    if alloy is not None:
        accounts = {key: account for key, account in accounts.items() if key[0] == alloy.pk}
    casts = _casts(first, last, alloy)
    return Document(
        name="metal-loss",
        title="Where the metal went",
        subtitle=str(alloy) if alloy else "",
        studio=studio.name,
        made_on=timezone.localdate(),
        period_text=f"{print_day(first, with_year=True)} to {print_day(last, with_year=True)}",
        blocks=(
            *_account_blocks(accounts),
            *_late_bills(first, last),
            Heading("Cast by cast"),
            _loss_picture(casts),
            _cast_table(casts),
        ),
        filename=f"metal-{first}-{last}",
        currency=studio.currency,
    )


def _account_blocks(accounts: dict[Key, MetalAccount]) -> list[Block]:
    if not accounts:
        return [Prose("No metal was here in this time.")]
    alloys = {alloy.pk: alloy for alloy in Alloy.objects.filter(pk__in={key[0] for key in accounts})}
    owners = Customer.objects.in_bulk([key[1] for key in accounts if key[1] is not None])
    blocks: list[Block] = []
    for key in sorted(accounts, key=lambda key: (key[1] is not None, alloys[key[0]].name, key[1] or 0)):
        owner = owners[key[1]] if key[1] is not None else None
        title = f"{alloys[key[0]]}" + (f", metal of {owner}" if owner else "")
        blocks.append(_account_table(title, accounts[key], alloys[key[0]].fineness > 0, owner is None))
        difference = check_account(accounts[key])
        if difference:
            blocks.append(Prose(difference))
    return blocks


def _account_table(title: str, account: MetalAccount, has_fine: bool, has_money: bool) -> Table:
    columns = [Column("what", "", on_phone=True), Column("mass", "Grams", "mass", on_phone=True)]
    if has_fine:
        columns.append(Column("fine", "Fine grams", "fine"))
    if has_money:
        columns.append(Column("cost", "Cost", "money", on_phone=True))

    def row(label: str, amount: Amount) -> tuple[Any, ...]:
        values: list[Any] = [label, amount.quantity]
        values += [amount.fine_ug] if has_fine else []
        values += [amount.cost_micro] if has_money else []
        return tuple(values)

    def section(labels: Mapping[str, str], amounts: Mapping[str, Amount], before: str = "") -> list[Any]:
        return [
            row(before + label, amounts[key])
            for key, label in labels.items()
            if key in amounts and not amounts[key].is_nothing
        ]

    rows = [
        *section(HELD_LABELS, account.opening, "Here at the start, "),
        *section(CAME_LABELS, account.came),
        row("To account for", account.total_in),
        *section(WENT_LABELS, account.went),
        *section(HELD_LABELS, account.closing, "Here at the end, "),
    ]
    lost = total_of(
        account.went[key] for key in ("lost_pour", "lost_finish", "missing") if key in account.went
    )
    note = f"Lost in all, with what is missing at counts: {print_percent(_share(lost, account))} of what was there."
    return Table(title, tuple(columns), tuple(rows), row("Accounted for", account.total_out), note)


def _share(lost: Amount, account: MetalAccount) -> int:
    return compute_share_pct100(lost.quantity, account.total_in.quantity) or 0


def _late_bills(first: date, last: date) -> list[Block]:
    late_micro = late_bills_on_used(first, last)
    if not late_micro:
        return []
    return [
        Prose(
            f"Late bills put {print_money(late_micro)} on metal and powder that were already used. "
            "It stands apart: no closed cast was changed."
        )
    ]


def _casts(first: date, last: date, alloy: Alloy | None) -> list[Cast]:
    casts = casts_with_grams().filter(closed_on__isnull=False, day__gte=first, day__lte=last)
    if alloy is not None:
        casts = casts.filter(alloy=alloy)
    return list(casts.order_by("day", "pk"))


def _loss_picture(casts: Sequence[Any]) -> Block:
    shown = casts[-CHART_CASTS:]
    losses = [compute_share_pct100(cast.lost_mg, cast.charge_mg) or 0 for cast in shown]
    points = [LossPoint(f"Cast {cast.number}", loss) for cast, loss in zip(shown, losses, strict=True)]
    mean = sum(losses) // len(losses) if losses else None
    limit = policy_on(shown[-1].day, all_policies()).normal_loss_pct100 if shown else None
    title = "Loss of each cast" if len(shown) == len(casts) else f"Loss of the last {CHART_CASTS} casts"
    # The table below tells the same figures, so the chart need not bring its own.
    return replace(loss_chart(points, mean, limit, title=title), told_in_key=True)


def _cast_table(casts: Sequence[Any]) -> Table:
    policies = all_policies()
    columns = (
        Column("cast", "Cast", on_phone=True),
        Column("day", "Day", "day"),
        Column("alloy", "Alloy"),
        Column("charge", "Charge", "mass"),
        Column("pieces", "Pieces", "mass"),
        Column("back", "Back", "mass"),
        Column("filings", "Filings, spill", "mass"),
        Column("lost", "Lost", "mass", on_phone=True),
        Column("share", "Of the charge", "percent", on_phone=True),
        Column("word", "", on_phone=False),
    )
    rows = tuple(_cast_row(cast, policy_on(cast.day, policies).normal_loss_pct100) for cast in casts)
    sums = [sum(row[place] for row in rows) for place in range(3, 8)]
    share = compute_share_pct100(sums[4], sums[0])
    note = (
        "The four parts of a charge are what they are today: finishing and what was found later are in them."
    )
    return Table("Loss of each cast", columns, rows, ("Together", None, "", *sums, share, ""), note)


def _cast_row(cast: Any, normal_pct100: int) -> tuple[Any, ...]:
    share = compute_share_pct100(cast.lost_mg, cast.charge_mg) or 0
    word = "failed" if cast.outcome == Cast.Outcome.FAILED else ""
    if share > normal_pct100:
        word = f"{word}, above normal" if word else "above normal"
    name = f"{cast.number}. {cast.title}"
    parts = (cast.charge_mg, cast.pieces_mg, cast.back_mg, cast.filings_mg, cast.lost_mg)
    return (name, cast.day, str(cast.alloy), *parts, share, word)


register(
    Report(
        name="metal-loss",
        title="Where the metal went",
        summary="Over a time: what was here and what came in, what went into pieces, and what was lost by stage.",
        form_class=MetalLossForm,
        build=build_metal_loss,
    )
)
