"""Reads of firings: the energy each took, and the casts that were in it."""

from django.db.models import Count, Q, QuerySet

from inventory.core.energy import Energy, compute_energy_from_meter, compute_energy_from_rating
from inventory.models import Cast, Firing

CHOICE_MOST = 30
ENERGY_UNKNOWN = (
    "Not known: no meter was read, and the kiln's power or the share of its time is not written down."
)


def firings() -> QuerySet[Firing]:
    """Firings with their kiln and `cast_count`."""
    return Firing.objects.select_related("kiln").annotate(cast_count=Count("casts"))


def energy_of_firing(firing: Firing) -> Energy:
    """By the meter if it was read, else by rated power, the firing's own before the kiln's."""
    if firing.meter_before_wh is not None and firing.meter_after_wh is not None:
        return compute_energy_from_meter(firing.meter_before_wh, firing.meter_after_wh)
    rated_w = firing.rated_w or firing.kiln.rated_w
    share_pct100 = firing.share_on_pct100 or firing.kiln.share_on_pct100
    if rated_w and share_pct100:
        return compute_energy_from_rating(rated_w, firing.minutes, share_pct100)
    return Energy(problem=ENERGY_UNKNOWN)


def casts_for_firing(firing: Firing | None) -> QuerySet[Cast]:
    """The casts that may be ticked: those in this firing, and the newest that are in none."""
    free = Cast.objects.filter(firing=None).order_by("-number").values_list("pk", flat=True)[:CHOICE_MOST]
    choice = Q(pk__in=list(free))
    if firing is not None and firing.pk:
        choice |= Q(firing=firing)
    return Cast.objects.filter(choice).order_by("-number")
