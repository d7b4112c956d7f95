"""Pictures are taken in and removed: a file is there before its row, and goes after it."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from inventory.models import Picture
from inventory.queries.pictures import count_of, picture_names
from studio.kit.photo_files import digest_of, new_name, remove_files, sweep, write_files
from studio.kit.photos import Photo

from .refusal import Refused

MOST_OF_ONE = 60


def take_in_pictures(
    of: dict[str, Model], photos: Sequence[Photo], shows: str, words: str, by: User
) -> list[Picture]:
    """Keep pictures of one thing: `of` is the name of the link and the record. Raises Refused beyond MOST_OF_ONE.

    A crash in the middle leaves files without a row, which are swept away at the next start, and never a row
    without its file.
    """
    if count_of(of) + len(photos) > MOST_OF_ONE:
        raise Refused(f"There are at most {MOST_OF_ONE} pictures of one thing. Remove some first.", "chosen")
    taken = []
    for photo in photos:
        name = new_name()
        write_files(name, photo.large, photo.small)
        facts: dict[str, Any] = {**of, "shows": shows, "words": words, "name": name, "taken_in_by": by}
        taken.append(
            Picture.objects.create(
                digest=digest_of(photo.large, photo.small),
                width=photo.width,
                height=photo.height,
                taken_in_at=timezone.now(),
                **facts,
            )
        )
    return taken


def forget_files(instance: Picture, **_: Any) -> None:
    """A picture's row is taken out: so are its files, once nothing can bring the row back."""
    transaction.on_commit(partial(remove_files, instance.name))


def remove_picture(picture: Picture) -> None:
    picture.delete()


def sweep_files() -> int:
    """Take away files that no picture names; how many."""
    return sweep(picture_names())
