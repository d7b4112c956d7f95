"""The studio's rules for each kind of reclaim, and the origins of metal that may go in the pot as it lies there."""

from inventory.core.reclaim_kinds import KindRule
from inventory.models import Lot, Studio


def kind_rules(studio: Studio) -> dict[str, KindRule]:
    """By the origin of a lot."""
    return {
        kind.value: KindRule(
            kind.value, getattr(studio, f"melt_{kind}"), getattr(studio, f"metal_{kind}_pct100")
        )
        for kind in Lot.RECLAIM
    }


def meltable_origins(studio: Studio) -> tuple[str, ...]:
    """Metal that was never melted here, and the kinds of reclaim that may be melted as they are."""
    melted = (kind for kind, rule in kind_rules(studio).items() if rule.may_melt)
    return (*(origin.value for origin in Lot.FRESH), *melted)
