from django.apps import AppConfig
from django.urls import register_converter

from studio.kit.addresses import WholeNumber


class KitConfig(AppConfig):
    """What every page shares."""

    name = "studio.kit"
    label = "kit"

    def ready(self) -> None:
        register_converter(WholeNumber, "whole")
