"""Double clicks and two open tabs: a form carries a one-time key, so the same posting happens once."""

from collections.abc import Callable
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import OnceKey


def post_once(key: UUID, act: Callable[[], str]) -> str:
    """Do `act`, which posts and returns the address of its result, once for this key.

    A second call with the same key does nothing and returns the first result's address. What `act` raises
    passes through, and the key stays unused, so a refused form can be mended and sent again.
    """
    try:
        with transaction.atomic():
            done = OnceKey.objects.filter(pk=key).first()
            if done is not None:
                return done.result_url
            result_url = act()
            OnceKey.objects.create(key=key, result_url=result_url, made_at=timezone.now())
            return result_url
    except IntegrityError:
        # On PostgreSQL two senders can both find no key; the later one's work was rolled back just now.
        done = OnceKey.objects.filter(pk=key).first()
        if done is None:
            raise
        return done.result_url
