"""Proof that each picture is there, and is the one that was taken in."""

from typing import Any

from django.db.models import QuerySet

from inventory.models import Picture
from inventory.queries.kept import kept
from studio.kit.photo_files import digest_of, has_copied, read_copied, read_files

from .reading import Ledger
from .registry import Finding, register_check


@register_check
def check_pictures(ledger: Ledger) -> Finding:
    finding = Finding("each picture has its files, and they are what was taken in")
    read = None
    for pk, name, digest in _pictures():
        finding.checked += 1
        read = read or (read_copied if has_copied() else read_files)
        files = read(name)
        if files is None:
            finding.problems.append(f"picture {pk} has lost its file {name}")
        elif digest_of(*files) != digest:
            finding.problems.append(f"picture {pk} is not what was taken in: its file {name} was changed")
    return finding


@kept
def _pictures() -> QuerySet[Picture, Any]:
    return Picture.objects.order_by("pk").values_list("pk", "name", "digest")
