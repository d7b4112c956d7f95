"""One search box for everything: what was found, by sort, each with the way to its list with the same words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import get_resolver, reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from inventory.core.searching import Term, read_terms
from inventory.models import (
    Batch,
    Cast,
    Customer,
    Delivery,
    Design,
    Firing,
    Lot,
    Material,
    Order,
    Piece,
    Plan,
    Refiner,
    Supplier,
    Tin,
)
from inventory.queries.ledger import name_lot
from inventory.queries.search import SHOWN, Named, find_meant, search
from inventory.tables.ordering import describe_order
from inventory.tables.refining import describe_batch
from studio.kit.fields import LINE_MAX
from studio.kit.listing import ListingView
from studio.kit.printing import print_date, print_moment, print_quantity

_TOO_LONG = f"Write at most {LINE_MAX} letters: a few words are enough."


@dataclass(frozen=True)
class Hit:
    """One line: what it is, where it leads, and a few words to tell it from others."""

    title: str
    address: str
    detail: str


@dataclass(frozen=True)
class Sort:
    """How hits of a sort are told, and its list: the address's name, and what else it is asked."""

    label: str
    tell: Callable[[Any], Hit]
    list_name: str
    asked: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Group:
    """What was found of a sort; `more_address` is "" where all of it is shown."""

    label: str
    hits: Sequence[Hit]
    more_address: str


def join_words(*words: object) -> str:
    return ", ".join(str(word) for word in words if word)


def _tell_cast(cast: Cast) -> Hit:
    address = reverse("inventory:cast-detail", args=[cast.number])
    return Hit(f"{cast}, {cast.title}", address, join_words(cast.alloy, cast.owner, print_date(cast.day)))


def _tell_piece(piece: Piece) -> Hit:
    address = reverse("inventory:piece-detail", args=[piece.pk])
    return Hit(
        piece.name,
        address,
        join_words(f"cast {piece.cast.number}", piece.cast.alloy, piece.get_state_display()),
    )


def _tell_design(design: Design) -> Hit:
    address = reverse("inventory:design-detail", args=[design.pk])
    return Hit(design.name, address, join_words(design.collection, "put away" if design.archived else ""))


def _tell_name(named: Named) -> Hit:
    count = f"{named.pieces:,} {'piece' if named.pieces == 1 else 'pieces'}"
    return Hit(named.name, f"{reverse('inventory:piece-list')}?{urlencode({'words': named.name})}", count)


def _tell_tin(tin: Tin) -> Hit:
    address = reverse("inventory:tin-detail", args=[tin.pk])
    return Hit(tin.name, address, join_words(tin.material.alloy, tin.get_kind_display(), tin.owner))


def _tell_lot(lot: Lot) -> Hit:
    left = lot.holder.quantity
    is_here = f"{print_quantity(left, lot.material.unit)} left" if left else "used up"
    told = (lot.material if lot.from_cast else "", is_here, lot.owner, lot.supplier, lot.supplier_batch)
    return Hit(name_lot(lot), reverse("inventory:lot-detail", args=[lot.pk]), join_words(*told, lot.kept_in))


def _tell_plan(plan: Plan) -> Hit:
    state = f"begun: cast {plan.cast.number}" if plan.cast else "given up" if plan.dropped else "open"
    when = (
        f"{plan.day.get_wish_display()} {print_moment(timezone.localtime(plan.day.wish_at), with_year=True)}"
    )
    return Hit(plan.title, reverse("inventory:plan-detail", args=[plan.pk]), join_words(when, state))


def _tell_delivery(delivery: Delivery) -> Hit:
    address = reverse("inventory:delivery-detail", args=[delivery.pk])
    told = join_words(
        print_date(delivery.received_on), delivery.reference, "reversed" if delivery.void else ""
    )
    return Hit(str(delivery.supplier), address, told)


def _tell_order(order: Order) -> Hit:
    address = reverse("inventory:order-detail", args=[order.pk])
    told = join_words(order.supplier, print_date(order.placed_on), describe_order(order), order.reference)
    return Hit(str(order), address, told)


def _tell_firing(firing: Firing) -> Hit:
    address = reverse("inventory:firing-detail", args=[firing.pk])
    return Hit(f"{firing.kiln}, {print_date(firing.day)}", address, firing.note)


def _tell_customer(customer: Customer) -> Hit:
    return Hit(customer.name, reverse("inventory:customer-edit", args=[customer.pk]), customer.contact)


def _tell_supplier(supplier: Supplier) -> Hit:
    return Hit(supplier.name, reverse("inventory:supplier-edit", args=[supplier.pk]), supplier.contact)


def _tell_batch(batch: Batch) -> Hit:
    address = reverse("inventory:batch-detail", args=[batch.pk])
    told = join_words(batch.refiner, print_date(batch.sent_on), describe_batch(batch), batch.reference)
    return Hit(str(batch), address, told)


def _tell_refiner(refiner: Refiner) -> Hit:
    return Hit(refiner.name, reverse("inventory:refiner-edit", args=[refiner.pk]), refiner.contact)


def _tell_material(material: Material) -> Hit:
    address = reverse("inventory:material-edit", args=[material.pk])
    return Hit(material.name, address, str(material.get_kind_display()))


PUT_AWAY_TOO = (("shown", "all"),)
SORTS = {
    "cast": Sort("Casts", _tell_cast, "inventory:cast-list"),
    "design": Sort("Designs", _tell_design, "inventory:design-list", PUT_AWAY_TOO),
    "name": Sort("Names of pieces", _tell_name, "inventory:piece-list"),
    "piece": Sort("Pieces", _tell_piece, "inventory:piece-list"),
    "lot": Sort("Lots", _tell_lot, "inventory:lot-list", (("show", "all"),)),
    "tin": Sort("Tins", _tell_tin, "inventory:tin-list"),
    "plan": Sort("Plans", _tell_plan, "inventory:plan-list"),
    "delivery": Sort("Deliveries", _tell_delivery, "inventory:delivery-list"),
    "order": Sort("Orders", _tell_order, "inventory:order-list"),
    "firing": Sort("Firings", _tell_firing, "inventory:firing-list"),
    "customer": Sort("Customers", _tell_customer, "inventory:customer-list", PUT_AWAY_TOO),
    "supplier": Sort("Suppliers", _tell_supplier, "inventory:supplier-list", PUT_AWAY_TOO),
    "batch": Sort("Batches", _tell_batch, "inventory:batch-list"),
    "refiner": Sort("Refiners", _tell_refiner, "inventory:refiner-list", PUT_AWAY_TOO),
    "material": Sort("Materials", _tell_material, "inventory:material-list", PUT_AWAY_TOO),
}


PAGES: dict[str, Callable[[], str]] = {}
"""Other pages by their names, and how each address is found; lists are known by themselves."""


@cache
def _list_pages() -> dict[str, str]:
    """Every list by its title, and the reports and pages that an app named."""
    found = {}
    resolvers: Any = [one for one in get_resolver().url_patterns if hasattr(one, "url_patterns")]
    for resolver in resolvers:
        for pattern in resolver.url_patterns:
            view = getattr(pattern.callback, "view_class", None)
            if isinstance(view, type) and issubclass(view, ListingView) and not pattern.pattern.converters:
                found[str(view.title)] = reverse(f"{resolver.app_name}:{pattern.name}")
    return found | {title: address() for title, address in PAGES.items()}


def find_pages(terms: Sequence[Term]) -> list[Hit]:
    """Pages of whose name each word is a part."""
    words = [term.text.casefold() for term in terms]
    named = _list_pages().items()
    return [
        Hit(title, address, "") for title, address in named if all(one in title.casefold() for one in words)
    ]


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Everything that has all the words of `?q=`, by sort; without words, what is searched."""
    typed = " ".join(request.GET.get("q", "").split())
    is_too_long = len(typed) > LINE_MAX
    terms = () if is_too_long else read_terms(typed)
    meant = find_meant(terms)
    context = {
        "typed": typed[:LINE_MAX],
        "most": LINE_MAX,
        "problem": _TOO_LONG if is_too_long else "",
        "is_asked": bool(terms),
        "meant": _tell_meant(meant) if meant else None,
        "groups": _group(terms, typed, meant) if terms else [],
    }
    return render(request, "search/search.html", context)


def _tell_meant(meant: Cast | Lot | Batch) -> Hit:
    if isinstance(meant, Lot):
        return _tell_lot(meant)
    return _tell_batch(meant) if isinstance(meant, Batch) else _tell_cast(meant)


def _group(terms: Sequence[Term], typed: str, meant: Cast | Lot | Batch | None) -> list[Group]:
    """Without the thing that was meant, which stands above them."""
    groups = [Group("Pages", pages, "")] if (pages := find_pages(terms)[:SHOWN]) else []
    for name, part in search(terms).items():
        sort = SORTS[name]
        address = f"{reverse(sort.list_name)}?{urlencode((('words', typed), *sort.asked))}"
        hits = [sort.tell(row) for row in part.rows if row != meant]
        groups += [Group(sort.label, hits, address if part.has_more else "")] if hits else []
    return groups
