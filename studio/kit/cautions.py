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
        "Investment powder holds crystalline silica, which harms the lungs for good. Wear a respirator that is "
        "rated for fine silica and fits your face closely while you weigh, mix, pour and break the mould open; paper "
        "masks let it through. Add powder to water gently, and wipe up wet: never sweep dry or blow.",
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
        "its red first, keep the respirator on, and leave the plaster wet so that its silica dust stays down.",
    ),
    "zinc": Caution(
        "Zinc fume",
        "Zinc boils at 907\u00a0°C, below the heat at which brass and bronze with zinc are poured; some gold, most "
        "solder and scrap may hold it too. A torch that melts brass drives it off in a cloud. The white smoke gives "
        "metal fume fever: draw the air away from the melt, keep your head out of the smoke, and heat it no further "
        "than the pour needs.",
    ),
    "scrap": Caution(
        "Lead and cadmium",
        "Scrap of unknown make and old solder may hold lead or cadmium. Their fume poisons, and that of cadmium can "
        "kill a day later. Do not melt what you do not know: cut the solder out, have the metal assayed or send it "
        "to a refiner, and draw the air away from every melt.",
    ),
    "dust": Caution(
        "Dust of metal and of the mould",
        "Filings and sweeps are fine enough to breathe, and sweeps hold silica from broken moulds, which harms the "
        "lungs for good. Wear a respirator that is rated for fine silica and fits your face closely while you sieve, "
        "weigh and bag them. Wet what may be wetted, wipe up wet, never blow or sweep dry, and close the bags before "
        "they travel.",
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
