from django.apps import AppConfig
from django.urls import register_converter
from django.urls.converters import IntConverter, StringConverter

from studio.kit.fields import KEY_DIGITS


class WholeNumber(IntConverter):
    """`<whole:pk>`: a whole number that a database can hold. An address with a longer one leads nowhere."""

    regex = f"[0-9]{{1,{KEY_DIGITS}}}"


class Letter(StringConverter):
    """`<letter:name>`: one letter, so that a number may stand right behind it."""

    regex = "[A-Za-z]"


class KitConfig(AppConfig):
    """What every page shares."""

    name = "studio.kit"
    label = "kit"

    def ready(self) -> None:
        register_converter(WholeNumber, "whole")
        register_converter(Letter, "letter")
