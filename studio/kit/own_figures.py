"""Rows of settings whose figures say whether the person set them."""

from typing import Any

from django.db import models

from studio.kit.working import Setting, Source


class OwnFigures(models.Model):
    """A row that begins with figures of the code's choosing. Whole numbers come out of it as `Setting`.

    A figure that still is the one it began with is the studio's starting figure, any other the person's own.
    """

    class Meta:
        abstract = True

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self._meta.concrete_fields:
            value = self.__dict__.get(field.attname)
            if type(value) is int and field.has_default():
                origin = Source.STARTING if value == field.get_default() else Source.OWN_SETTING
                self.__dict__[field.attname] = Setting(value, origin)
