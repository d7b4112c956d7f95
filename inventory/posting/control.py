"""Setting anew the limits of what is usually lost."""

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.core.control_chart import LEAST_CASTS
from inventory.models import LossLimits
from inventory.queries.control import FAMILY_WORDS, count_weighed_out

from .locking import studio_locked
from .refusal import Refused


def set_limits(metal: str, first: int, last: int, reason: str, by: User | None = None) -> LossLimits:
    """Have the casts of a family from one number to another set its limits from now on.

    Raises Refused where they are too few to say what is usual.
    """
    with studio_locked():
        count = count_weighed_out(metal, first, last)
        if count < LEAST_CASTS:
            raise Refused(
                f"There are {count} casts of {FAMILY_WORDS[metal]} in that span that were weighed out; limits take "
                f"at least {LEAST_CASTS}. Begin with an earlier cast.",
                "first",
            )
        return LossLimits.objects.create(
            metal=metal,
            first_number=first,
            last_number=last,
            reason=reason,
            set_on=timezone.localdate(),
            set_by=by,
        )
