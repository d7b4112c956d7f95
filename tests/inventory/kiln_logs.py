"""Files of a thermocouple to send in, of a kiln of our own making."""

from random import Random
from typing import Any

from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from inventory.core.kiln_log import read_log
from inventory.core.kiln_rates import Reading
from inventory.models import Firing, KilnLog
from inventory.posting.kiln_logs import keep_log
from tests.inventory.made_kiln import fire


def write_file(fired: list[Reading]) -> bytes:
    return ("seconds,°C\n" + "".join(f"{minute * 60:.1f},{c:.1f}\n" for minute, c in fired)).encode()


def file(content: bytes | None = None, name: str = "probe.csv") -> SimpleUploadedFile:
    whole = write_file(fire(Random(1), every=2.0)) if content is None else content
    return SimpleUploadedFile(name, whole, "text/csv")


def keep(firing: Firing, seed: int = 1, **fired: Any) -> KilnLog:
    content = write_file(fire(Random(seed), **{"every": 2.0, **fired}))
    read = read_log(content, timezone.get_current_timezone())
    return keep_log(firing, "probe.csv", read, User.objects.order_by("pk").first())
