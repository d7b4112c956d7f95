"""Pictures of what the studio has and does; their files lie in a folder beside the database."""

from functools import reduce
from operator import or_

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.kit.models import check

#: What a picture may be of: the names of its links, of which it has exactly one.
LINKS = ("piece", "cast", "lot", "design")


def _exactly_one() -> Q:
    return reduce(or_, (Q(**{f"{other}__isnull": other != link for other in LINKS}) for link in LINKS))


class Picture(models.Model):
    """One picture of one thing. `name` is that of its files, `digest` their checksum."""

    class Shows(models.TextChoices):
        PIECE = "piece", "the piece"
        TREE = "tree", "the tree"
        FLASK = "flask", "the flask"
        FAILED = "failed", "the casting that failed"
        LOT = "lot", "the lot"
        DESIGN = "design", "the design"
        OTHER = "other", "something else"

    piece = models.ForeignKey("Piece", models.CASCADE, null=True, blank=True, related_name="pictures")
    cast = models.ForeignKey("Cast", models.CASCADE, null=True, blank=True, related_name="pictures")
    lot = models.ForeignKey("Lot", models.CASCADE, null=True, blank=True, related_name="pictures")
    design = models.ForeignKey("Design", models.CASCADE, null=True, blank=True, related_name="pictures")
    shows = models.CharField(max_length=6, choices=Shows)
    words = models.CharField(max_length=120, blank=True, default="")
    name = models.CharField(max_length=32, unique=True)
    digest = models.CharField(max_length=64)
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()
    taken_in_at = models.DateTimeField()
    taken_in_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [check("picture_of_one_thing", _exactly_one())]

    def __str__(self) -> str:
        return self.words or self.get_shows_display()
