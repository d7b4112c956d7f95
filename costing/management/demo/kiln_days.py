"""Three casting days on the demo's one kiln: tomorrow's, and two that were planned for one evening."""

from datetime import date, timedelta

from costing.management.demo.plans import BRONZE_TREES, SILVER_TREES, CastingDays
from inventory.posting.planning import set_hold

DAYS_AHEAD = 2


def plan_two_for_one_evening(days: CastingDays, today: date) -> None:
    """A silver tree and, by a slip, a bronze one for the same pour: the second still has to move. Neither holds."""
    things, wish_at = days.things, days.pour_at(today + timedelta(days=DAYS_AHEAD))
    for tree, alloy, crucible, flask in (
        (SILVER_TREES[0], things.sterling, things.crucible, things.flask),
        (BRONZE_TREES[0], things.bronze, things.bronze_crucible, things.tall_flask),
    ):
        set_hold(days.plan(tree, alloy, crucible, days.day(wish_at), flask=flask), False)
