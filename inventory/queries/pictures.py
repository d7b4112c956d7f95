"""Reads of pictures: those of a thing, and the first of each row of a list."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Min, Model, Q, QuerySet

from inventory.models import Cast, Picture

#: In the row of a thing's page; all of them stand on the page of its pictures.
SHOWN = 12


def find_picture(pk: int) -> Picture | None:
    return (
        Picture.objects.select_related("piece__cast", "cast", "lot", "design", "taken_in_by")
        .filter(pk=pk)
        .first()
    )


def pictures_of(**of: Any) -> "QuerySet[Picture]":
    """All pictures of one thing, by the name of the link: pictures_of(piece=piece)."""
    return Picture.objects.filter(**of).select_related("piece").order_by("id")


def pictures_around(cast: Cast) -> "QuerySet[Picture]":
    """Pictures of a cast, and then of its pieces."""
    rows = Picture.objects.filter(Q(cast=cast) | Q(piece__cast=cast, piece__void=False))
    return rows.select_related("piece").order_by("piece_id", "id")[: 2 * SHOWN]


def count_of(of: Mapping[str, Model]) -> int:
    return Picture.objects.filter(**of).count()


def first_pictures(link: str, keys: Iterable[int]) -> dict[int, int]:
    """The key of the first picture of each of some things, by the thing's; only those that have one."""
    rows = Picture.objects.filter(**{f"{link}__in": list(keys)}).order_by().values_list(link)
    return dict(rows.annotate(first=Min("pk")))


def pictures_by_key(keys: Iterable[int]) -> dict[int, Picture]:
    return Picture.objects.in_bulk(list(keys))


def picture_names() -> set[str]:
    """The names of all files that belong to a picture."""
    return set(Picture.objects.values_list("name", flat=True))
