"""Reads of tins: what lies in one, what may go into it, and from which casts it came."""

from inventory.models import Lot, Tin

from .shelf import lots_here


def lots_in_tin(tin: Tin) -> list[Lot]:
    """What a tin holds: one lot; two where a charge that was taken back left its metal in the one before."""
    return list(lots_here(tin=tin).select_related("holder", "material", "owner", "from_cast").order_by("pk"))
