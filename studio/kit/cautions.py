"""Words of care that stand beside the work. They inform and never block a page."""

from dataclasses import dataclass

LOCAL_RULES = "Local rules and the maker's own sheet decide."


@dataclass(frozen=True, slots=True)
class Caution:
    """A heading and what to mind, in whole sentences."""

    title: str
    text: str
    ending: str = LOCAL_RULES


CAUTIONS: dict[str, Caution] = {
    "powder": Caution(
        "Silica dust",
        "Investment powder holds crystalline silica, which harms the lungs for good. Wear a fitted dust mask while you "
        "weigh, pour and mix, add powder to water gently, and wipe up wet: never sweep dry or blow.",
    ),
    "burnout": Caution(
        "Fumes and a hot kiln",
        "Wax, plastic and resin give off harmful fumes as they burn out. Run the kiln in the open or under a hood "
        "that leads outside, keep the room aired, and do not leave the kiln alone unless your local rules and its "
        "maker allow it.",
    ),
    "pour": Caution(
        "Molten metal",
        "Everything that meets the melt must be dry and warm: flask, charge, crucible, tongs. Keep water away, wear a "
        "face shield, gloves, an apron and closed leather shoes, and stand clear of the line of the pour.",
    ),
    "quench": Caution(
        "Steam and hot plaster",
        "Quench at arm's length with your face turned away: steam rises and hot plaster spits. Let the button lose "
        "its red first, keep the mask on, and leave the plaster wet so that its dust stays down.",
    ),
    "flux": Caution(
        "Flux and the crucible",
        "Never put flux in a graphite crucible: it eats the wall and the crucible may fail full of metal. Glaze a "
        "clay crucible with flux before its first melt.",
    ),
}


def find_caution(kind: str) -> Caution:
    """The caution of that kind. Raises KeyError for a kind that nobody wrote."""
    return CAUTIONS[kind]
