"""The next tree: what waits to be cast, and which of it to put into the next flask."""

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from costing.core.next_tree import Tree, Waiting, choose_tree, work_tree
from costing.forms.next_tree import BenchForm, MostForm
from costing.queries.next_tree import Bench, Offer, TreeWanted, read_tree_wanted
from inventory.queries.casting_choices import read_studio_choices
from inventory.queries.studio import current_practice, studio_of
from studio.kit.forms import list_mistakes
from studio.kit.printing import print_mass, print_money, print_percent
from studio.kit.units import PCT100_WHOLE, round_half_up
from studio.kit.working import Working

NO_METAL = 10**12
"""Milligrams: nobody bounds the metal, so the flask does."""


@dataclass(frozen=True)
class Chosen:
    """The tree, how many of each design stand on it, and how it came about."""

    tree: Tree
    counts: dict[int, int]
    names: dict[int, str]
    limit_mg: int
    working: Working

    @property
    def answer(self) -> str:
        """ "2 × Stud, 3 × Brooch"; "" for an empty tree."""
        return ", ".join(f"{count} × {self.names[pk]}" for pk, count in self.counts.items() if count)

    @property
    def said(self) -> str:
        """What is taken of both limits, and which of them stops it."""
        room = print_percent(round_half_up(self.tree.room * PCT100_WHOLE))
        metal = print_mass(self.tree.metal_mg)
        of = f" of {print_mass(self.limit_mg)} that may be cast" if self.limit_mg < NO_METAL else ""
        return (
            f"Of its prices {print_money(self.tree.money_micro)} should be left after metal and work. "
            f"The castings take {metal}{of}, and {room} of what such a flask has held."
        )


@require_safe
def show_next_tree(request: HttpRequest) -> HttpResponse:
    """What is asked for stands in the address: nothing is saved."""
    data = request.GET if "alloy" in request.GET else None
    choices, studio = read_studio_choices(), studio_of(request)
    form = BenchForm(data, choices)
    alloy, flask, crucible = form.said()
    context: dict[str, Any] = {"form": form, "section": "casts", "mistakes": list_mistakes(form)}
    if alloy is None or flask is None:
        return render(request, "costing/next_tree.html", context)
    bench = Bench(alloy, flask, crucible)
    wanted = read_tree_wanted(bench, studio, current_practice())
    # Another alloy has other designs: how many of each begins anew.
    same = request.GET.get("of") == str(alloy.pk)
    most = MostForm(data if same else None, wanted.offers)
    chosen = _choose(wanted, most)
    context |= {
        "bench": bench,
        "rows": [(offer, field, chosen.counts.get(offer.design.pk, 0)) for offer, field in most.rows()],
        "refused": [offer for offer in wanted.offers if offer.refused],
        "chosen": chosen,
        "plan": _plan_address(bench, chosen),
        "workings": [chosen.working, *([wanted.limit[1]] if wanted.limit else [])],
        "mistakes": [*list_mistakes(form), *list_mistakes(most)],
    }
    return render(request, "costing/next_tree.html", context)


def _choose(wanted: TreeWanted, most: MostForm) -> Chosen:
    limit_mg = NO_METAL if wanted.limit is None else wanted.limit[0]
    waiting: list[Waiting] = []
    owners: list[Offer] = []
    for offer, count in zip(most.offers, most.most(), strict=True):
        parts = offer.waits(count)
        waiting += parts
        owners += [offer] * len(parts)
    tree = choose_tree(waiting, limit_mg)
    counts: dict[int, int] = {}
    for offer, count in zip(owners, tree.counts, strict=True):
        counts[offer.design.pk] = counts.get(offer.design.pk, 0) + count
    names = {offer.design.pk: offer.design.name for offer in owners}
    return Chosen(tree, counts, names, limit_mg, work_tree(waiting, tree, limit_mg))


def _plan_address(bench: Bench, chosen: Chosen) -> str:
    """The page of a new plan, begun with this tree; "" for an empty one."""
    parts = [(pk, count) for pk, count in chosen.counts.items() if count]
    if not parts:
        return ""
    said: list[tuple[str, object]] = [("design", f"{pk}x{count}") for pk, count in parts]
    said += [("alloy", bench.alloy.pk), ("flask", bench.flask.pk)]
    if bench.crucible is not None:
        said.append(("crucible", bench.crucible.pk))
    return f"{reverse('inventory:plan-new')}?{urlencode(said)}"
