"""What every model may be made with, and what the kit keeps itself: how often a password was wrong."""

from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

from django.db import models
from django.db.models import CheckConstraint, Q, QuerySet

from studio.kit.working import Setting, Source

M = TypeVar("M", bound=models.Model)


def check(name: str, condition: Q | None = None, **lookups: Any) -> CheckConstraint:
    """A row must meet the condition, or look as the lookups say."""
    return CheckConstraint(condition=Q(**lookups) if condition is None else condition, name=name)


def only_one(rows: "QuerySet[M]") -> M | None:
    """The one row that there can be, None where there is none: of a unique key, or of a table with a single row.

    `first()` would have the rows put in order, which takes longer to ask for than a row to read.
    """
    return next(iter(rows.order_by()[:1]), None)


def in_order(rows: "QuerySet[M]", *by: str, newest_first: bool = False) -> list[M]:
    """All these rows, put in order here by attributes that are numbers or days and never empty.

    For wide rows of which there are few: what `order_by` costs with each column (see `only_one`) is saved.
    """
    return sorted(rows.order_by(), key=attrgetter(*by), reverse=newest_first)


class OwnFigures(models.Model):
    """A row that begins with figures of the code's choosing. Whole numbers come out of it as `Setting`.

    A figure that still is the one it began with is the studio's starting figure, any other the person's own.
    """

    class Meta:
        abstract = True

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.say_whose_figures()

    def say_whose_figures(self) -> None:
        """Make a `Setting` of each figure; for whoever puts a row together without `__init__`."""
        for name, first in _starting_figures(type(self)):
            value = self.__dict__.get(name)
            if type(value) is int:
                origin = Source.STARTING if value == first else Source.OWN_SETTING
                self.__dict__[name] = Setting(value, origin)


@cache
def _starting_figures(model: type[models.Model]) -> list[tuple[str, Any]]:
    """What a row of this model begins with, by attribute."""
    return [
        (field.attname, field.get_default()) for field in model._meta.concrete_fields if field.has_default()
    ]


class WrongTries(models.Model):
    """Tries of one asker at one name since a moment. The key is a digest: what is typed as a name may be a password."""

    key = models.CharField(max_length=64, primary_key=True)
    count = models.PositiveSmallIntegerField()
    since = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.count} tries since {self.since}"
