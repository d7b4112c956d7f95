"""A document of the studio, as a report makes it today."""

from collections.abc import Sequence

from django.utils import timezone

from inventory.models import Studio
from studio.kit.documents import Block, Document


def make_document(
    studio: Studio,
    title: str,
    blocks: Sequence[Block],
    filename: str,
    subtitle: str = "",
    period_text: str = "",
) -> Document:
    return Document(
        title=title,
        subtitle=subtitle,
        studio=studio.name,
        made_on=timezone.localdate(),
        period_text=period_text,
        blocks=tuple(blocks),
        filename=filename,
        currency=studio.currency,
    )
