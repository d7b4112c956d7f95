"""What earlier casts of a firing carry of its energy, and how that changes with the casts that stand in it."""

from collections.abc import Iterable

from inventory.core.doubts import doubt_shares
from inventory.core.powder import compute_flask_volume
from inventory.models import Cast, Equipment, Firing

from .firing import KilnRecords

#: A cast that has no number yet.
NEW = 0


def doubt_joining(firing: Firing | None, flask: Equipment | None, cast: Cast | None = None) -> str:
    """What is to be asked before a cast is put into a firing: whose share changes, and whether its flask is there."""
    if firing is None or (cast is not None and cast.firing_id == firing.pk):
        return ""
    inside = list(firing.casts.select_related("flask").order_by("number"))
    twice = [one for one in inside if flask is not None and one.flask_id == flask.pk]
    said = [f"{flask} stood in {_name(firing)} already, with cast {twice[0].number}."] if twice else []
    after = _volumes(inside) | {cast.number if cast else NEW: _volume(flask)}
    return " ".join([*said, *_tell(firing, inside, after)])


def doubt_casts(firing: Firing, casts: Iterable[Cast]) -> str:
    """What is to be asked before a firing is said to have held these casts and no others."""
    inside = list(firing.casts.select_related("flask").order_by("number")) if firing.pk else []
    after = sorted(casts, key=lambda cast: cast.number)
    if {cast.pk for cast in after} == {cast.pk for cast in inside}:
        return ""
    return " ".join(_tell(firing, inside, _volumes(after)))


def _tell(firing: Firing, inside: list[Cast], after_ul: dict[int, int]) -> list[str]:
    told = [cast.number for cast in inside if cast.is_closed]
    if not told:
        return []
    energy = KilnRecords({firing.kiln_id}, firing.day, firing.day).energy_of(firing)
    said = doubt_shares(_name(firing), energy.energy_wh, _volumes(inside), after_ul, told)
    return [said] if said else []


def _name(firing: Firing) -> str:
    return f"firing {firing.pk}"


def _volumes(casts: Iterable[Cast]) -> dict[int, int]:
    return {cast.number: _volume(cast.flask) for cast in casts}


def _volume(flask: Equipment | None) -> int:
    """0 where the flask or its size is not known."""
    if flask is None or not flask.diameter_um or not flask.height_um:
        return 0
    return compute_flask_volume(flask.diameter_um, flask.height_um)
