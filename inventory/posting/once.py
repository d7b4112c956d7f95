"""Double clicks and two open tabs: a form carries a one-time key, so the same posting happens once."""

from collections.abc import Callable
from uuid import UUID

from django.utils import timezone

from inventory.models import OnceKey
from inventory.queries.once import result_of

from .locking import studio_locked


def post_once(key: UUID, act: Callable[[], str]) -> str:
    """Do `act`, which posts and returns the address of its result, once for this key.

    Nobody else posts from before `act` begins until it is written, so what it reads it may judge by. A second
    call with the same key does nothing and returns the first result's address. What `act` raises passes through,
    and the key stays unused, so a refused form can be mended and sent again.
    """
    with studio_locked():
        done = result_of(key)
        if done:
            return done
        result_url = act()
        OnceKey.objects.create(key=key, result_url=result_url, made_at=timezone.now())
        return result_url
