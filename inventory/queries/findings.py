"""Reads of findings of precious metal that were put on pieces."""

from django.db.models import Q, QuerySet

from inventory.core.findings import FindingMetal, weigh_finding
from inventory.models import Entry, Material, Movement

from .ledger import STANDING


def finding_lines(of: Q) -> QuerySet[Movement]:
    """The standing lines by which findings of precious metal went onto pieces; `of` says which pieces."""
    used = Movement.objects.filter(STANDING, of, entry__kind=Entry.Kind.USE)
    return used.filter(source__lot__material__finding_alloy__isnull=False).order_by()


def metal_of(material: Material, quantity: int) -> FindingMetal | None:
    """The metal in so many of a finding; None for one of none. A material comes with its alloy."""
    alloy = material.finding_alloy
    if alloy is None:
        return None
    mass_mg = weigh_finding(material.unit, quantity, material.item_mg)
    return FindingMetal(material.name, alloy.metal, alloy.fineness, mass_mg)
