"""Reads of the set-up's records by forms: what may still be chosen, and which names are taken."""

from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.db.models import Model, Q, QuerySet

from inventory.models import Alloy, Cast, ChecklistItem, Equipment, Lot, Material, Studio

M = TypeVar("M", bound=Model)


def every(model: type[M]) -> "QuerySet[M]":
    return model._default_manager.all()


def in_use(model: type[M], now: Any = None, **also: Any) -> "QuerySet[M]":
    """What was not put away; and the one with the key `now`, which a record has already."""
    return every(model).filter(Q(archived=False, **also) | Q(pk=now))


def kilns_in_use(now: Any = None) -> "QuerySet[Equipment]":
    return in_use(Equipment, now, kind=Equipment.Kind.KILN)


def find_twin(record: M, **says: Any) -> M | None:
    """Another record than this one that says the same."""
    return every(type(record)).filter(**says).exclude(pk=record.pk).first()


def is_taken(record: Model, **names: Any) -> bool:
    """Whether another record than this one has these names."""
    return every(type(record)).filter(**names).exclude(pk=record.pk).exists()


def names_of(model: type[Model]) -> list[str]:
    return list(every(model).values_list("name", flat=True))


def is_alloy_in_use(alloy: Alloy) -> bool:
    """Whether fine metal was ever counted with this alloy's fineness."""
    has_lots = Lot.objects.filter(material__alloy=alloy).exists()
    return has_lots or Cast.objects.filter(alloy=alloy).exists()


def find_by_key(model: type[M], typed: str) -> M | None:
    """The record of a key that an address or a form may say; None where there is none."""
    return every(model).filter(pk=int(typed)).first() if typed.isdecimal() and len(typed) < 12 else None


def has_materials() -> bool:
    return Material.objects.exists()


def checklist_lines() -> list[ChecklistItem]:
    """The list before the pour, in its order."""
    return list(ChecklistItem.objects.all())


def what_is_missing() -> tuple[bool, bool]:
    """Whether a studio and a first person are still to be named."""
    return not Studio.objects.exists(), not User.objects.exists()
