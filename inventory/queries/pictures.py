"""Reads of pictures: those of a thing, and the first of each row of a list."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Model, OuterRef, Q, QuerySet, Subquery

from inventory.models import Cast, Picture

#: In the row of a thing's page; all of them stand on the page of its pictures.
SHOWN = 12


def find_picture(pk: int) -> Picture | None:
    return Picture.objects.select_related("piece__cast", "cast", "lot", "taken_in_by").filter(pk=pk).first()


def pictures_of(**of: Any) -> "QuerySet[Picture]":
    """All pictures of one thing, by the name of the link: pictures_of(piece=piece)."""
    return Picture.objects.filter(**of).select_related("piece").order_by("id")


def pictures_around(cast: Cast) -> "QuerySet[Picture]":
    """Pictures of a cast, and then of its pieces."""
    rows = Picture.objects.filter(Q(cast=cast) | Q(piece__cast=cast, piece__void=False))
    return rows.select_related("piece").order_by("piece_id", "id")[: 2 * SHOWN]


def count_of(of: Mapping[str, Model]) -> int:
    return Picture.objects.filter(**of).count()


def with_picture(rows: "QuerySet[Any]", link: str) -> "QuerySet[Any]":
    """Each row with the key of its first picture as `picture`; None where it has none."""
    first = Picture.objects.filter(**{link: OuterRef("pk")}).order_by("pk").values("pk")[:1]
    return rows.annotate(picture=Subquery(first))


def picture_names() -> set[str]:
    """The names of all files that belong to a picture."""
    return set(Picture.objects.values_list("name", flat=True))
