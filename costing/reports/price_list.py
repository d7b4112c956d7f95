"""A price list to hand out: what is here to sell with its picture and what is asked, by collection. No cost."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.urls import reverse

from costing.queries.asked import asked_to_sell, collections_to_sell
from costing.queries.profit import name_design
from inventory.models import Picture, Piece
from inventory.queries.pictures import first_pictures, pictures_by_key
from inventory.queries.studio import current_studio
from inventory.reports.making import make_document
from studio.kit.documents import Cards, Column, Document, Filled, Photo, Prose, fill_table
from studio.kit.photo_files import photo_file
from studio.kit.reporting import ReportForm, report
from studio.kit.units import divide_half_up

_NO_COLLECTION = "Other pieces"


class PriceListForm(ReportForm):
    """One collection, or all of them."""

    collection = forms.ChoiceField(label="Collection", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["collection"]
        choice.choices = [("", "all"), *((name, name) for name in collections_to_sell())]


@dataclass(frozen=True)
class Offer:
    """Pieces of one design in one alloy, and what is asked for them."""

    pieces: Sequence[Piece]
    prices_micro: Sequence[int]

    @property
    def name(self) -> str:
        return name_design(self.pieces[0])

    @property
    def collection(self) -> str:
        design = self.pieces[0].design
        return design.collection if design else ""

    @property
    def mass_mg(self) -> int:
        """Their mean."""
        return divide_half_up(sum(piece.holder.quantity for piece in self.pieces), len(self.pieces))


@report(
    "price-list",
    "Price list",
    "What is here to sell, with its picture and what is asked for it, by collection. It says nothing of what it cost.",
    PriceListForm,
    place=51,
)
def build_price_list(params: Mapping[str, Any]) -> Document:
    wanted = params["collection"]
    offered = asked_to_sell(wanted)
    groups: dict[tuple[Any, ...], list[tuple[Piece, int]]] = defaultdict(list)
    for piece, price_micro in offered:
        groups[piece.design_id, name_design(piece), piece.cast.alloy_id].append((piece, price_micro))
    by_collection: dict[str, list[Offer]] = defaultdict(list)
    for rows in groups.values():
        offer = Offer(*zip(*rows, strict=True))
        by_collection[offer.collection].append(offer)
    photos = _find_photos([piece for piece, _ in offered])
    # What belongs to no collection stands last.
    names = sorted(by_collection, key=lambda name: (not name, name.casefold()))
    blocks: list[Any] = [_lay(name or _NO_COLLECTION, by_collection[name], photos) for name in names]
    if not blocks:
        blocks = [Prose("Nothing is asked for any piece that is here. Say first what is asked.")]
    studio = current_studio()
    return make_document(studio, "Price list", blocks, "price list", wanted)


def _lay(caption: str, unsorted: Sequence[Offer], photos: Mapping[int, Photo]) -> Cards:
    offers = sorted(unsorted, key=lambda offer: offer.name.casefold())
    first = [offer.pieces[0] for offer in offers]
    filled = [
        Filled(Column("what", "What"), [offer.name for offer in offers]),
        Filled(Column("metal", "Metal"), [str(piece.cast.alloy) for piece in first]),
        Filled(Column("mass", "Weighs, on average", "mass"), [offer.mass_mg for offer in offers]),
        Filled(Column("count", "Pieces", "count", "to choose from"), [len(offer.pieces) for offer in offers]),
        Filled(Column("price", "Price", "money"), [min(offer.prices_micro) for offer in offers]),
        Filled(Column("highest", "Up to", "money"), [max(offer.prices_micro) for offer in offers]),
    ]
    found = [
        next((photos[piece.pk] for piece in offer.pieces if piece.pk in photos), None) for offer in offers
    ]
    return Cards(fill_table(caption, filled), found)


def _find_photos(pieces: Sequence[Piece]) -> dict[int, Photo]:
    """By piece: the first picture of its design, or else of itself."""
    of_design = first_pictures("design", {piece.design_id for piece in pieces if piece.design_id})
    of_piece = first_pictures("piece", [piece.pk for piece in pieces])
    chosen = {piece.pk: of_design.get(piece.design_id or 0) or of_piece.get(piece.pk) for piece in pieces}
    rows: Mapping[int, Picture] = pictures_by_key({key for key in chosen.values() if key})
    return {
        piece: Photo(
            reverse("inventory:picture-file", args=[key, "small"]), photo_file(rows[key].name, "small")
        )
        for piece, key in chosen.items()
        if key and key in rows
    }
