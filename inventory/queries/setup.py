"""Reads of the set-up: what a studio has and lacks, in which order it is needed, and what may still be chosen."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.db.models import Count, Model, Q, QuerySet

from inventory import models
from inventory.models import Alloy, Cast, ChecklistItem, Equipment, Lot, Material, Studio
from studio.kit.printing import print_mass

M = TypeVar("M", bound=Model)


def every(model: type[M]) -> "QuerySet[M]":
    return model._default_manager.all()


def in_use(model: type[M], now: Any = None, **also: Any) -> "QuerySet[M]":
    """What was not put away; and the one with the key `now`, which a record has already."""
    return every(model).filter(Q(archived=False, **also) | Q(pk=now))


def kilns_in_use(now: Any = None) -> "QuerySet[Equipment]":
    return in_use(Equipment, now, kind=Equipment.Kind.KILN)


def find_twin(record: M, **says: Any) -> M | None:
    """Another record than this one that says the same."""
    return every(type(record)).filter(**says).exclude(pk=record.pk).first()


def is_taken(record: Model, **names: Any) -> bool:
    """Whether another record than this one has these names."""
    return every(type(record)).filter(**names).exclude(pk=record.pk).exists()


def names_of(model: type[Model]) -> list[str]:
    return list(every(model).values_list("name", flat=True))


def is_alloy_in_use(alloy: Alloy) -> bool:
    """Whether fine metal was ever counted with this alloy's fineness."""
    has_lots = Lot.objects.filter(material__alloy=alloy).exists()
    return has_lots or Cast.objects.filter(alloy=alloy).exists()


def find_by_key(model: type[M], typed: str) -> M | None:
    """The record of a key that an address or a form may say; None where there is none."""
    return every(model).filter(pk=int(typed)).first() if typed.isdecimal() and len(typed) < 12 else None


def has_materials() -> bool:
    return Material.objects.exists()


def is_stock_written() -> bool:
    """Whether anything was ever taken into stock."""
    return Lot.objects.exists()


def checklist_lines() -> list[ChecklistItem]:
    """The list before the pour, in its order."""
    return list(ChecklistItem.objects.all())


def what_is_missing() -> tuple[bool, bool]:
    """Whether a studio and a first person are still to be named."""
    return not Studio.objects.exists(), not User.objects.exists()


@dataclass(frozen=True, slots=True)
class SetupStep:
    """One thing to set up: its state in words, and the name of the address where it is done.

    `is_needed` is off for what a studio can cast without. `form` is the form of the first one that is missing: the
    name of its address, and what that needs to know.
    """

    title: str
    state: str
    is_done: bool
    address_name: str
    action: str = ""
    is_needed: bool = True
    form: tuple[str, ...] = ()


Provider = Callable[[], Iterable[SetupStep]]
_providers: list[Provider] = []


def register_setup_steps(provider: Provider) -> Provider:
    """Add steps of another app to the end of the list. Used as a decorator."""
    if provider not in _providers:
        _providers.append(provider)
    return provider


def setup_steps(studio: models.Studio) -> list[SetupStep]:
    """Every step in the order in which a new studio needs it; the same few queries however much there is."""
    state = f"Money in {studio.currency}; the scale reads to {print_mass(studio.scale_division_mg)}."
    own = [
        SetupStep("The studio and its scale", state, True, "inventory:studio-edit"),
        _count_step(
            models.Alloy,
            "Alloys",
            "None yet. Say what you cast, and how dense and fine it is.",
            "Write down an alloy",
        ),
        _material_step(),
        _count_step(
            models.Supplier,
            "Suppliers",
            "None yet. Say whom you buy from and how long a parcel takes.",
            "Write down a supplier",
            ("inventory:supplier-new",),
        ),
        _equipment_step(),
        _shelf_step(),
        _count_step(models.Customer, "Customers", "None. Only needed to cast a customer's own metal."),
        _count_step(models.Refiner, "Refiners", "None. Only needed to send scrap and filings away."),
        _count_step(models.Schedule, "Schedules of burnout", "None yet. A casting day is timed by one."),
        _day_step(),
        _checklist_step(),
    ]
    others = [step for provider in _providers for step in provider()]
    return [*own, *others, _people_step()]


def next_step(steps: Iterable[SetupStep]) -> SetupStep | None:
    """The first needed step that is not done."""
    return next((step for step in steps if step.is_needed and not step.is_done), None)


def next_wish(steps: Iterable[SetupStep]) -> SetupStep | None:
    """The first step that says what to do, that is not done, and that a studio can cast without."""
    return next((step for step in steps if step.action and not step.is_needed and not step.is_done), None)


def _count_step(
    model: type[Any], title: str, lack: str, action: str = "", form: tuple[str, ...] = ()
) -> SetupStep:
    """How many of a record are in use; those without an action are not needed to cast."""
    count, word = in_use(model).count(), str(model._meta.verbose_name)
    state = f"{_count(count, word)}." if count else lack
    return SetupStep(title, state, bool(count), f"inventory:{word}-list", action, bool(action), form)


_MATERIAL_WORDS = (("metal", "metal"), ("powder", "investment powder"), ("pattern", "pattern material"))


def _material_step() -> SetupStep:
    kinds = dict(
        in_use(models.Material)
        .exclude(form=models.Material.Form.RECLAIM)
        .order_by()
        .values_list("kind")
        .annotate(count=Count("pk"))
    )
    have = [_count(kinds[kind], word) for kind, word in _MATERIAL_WORDS if kinds.get(kind)]
    lack = [f"no {word}" for kind, word in _MATERIAL_WORDS if not kinds.get(kind)]
    rest = sum(count for kind, count in kinds.items() if kind not in dict(_MATERIAL_WORDS))
    if rest:
        have.append(_count(rest, "other thing"))
    return SetupStep(
        "Materials", _say(have, lack), not lack, "inventory:material-list", "Write down a material"
    )


def _equipment_step() -> SetupStep:
    kinds = dict(in_use(models.Equipment).order_by().values_list("kind").annotate(count=Count("pk")))
    have = [_count(kinds[kind], str(kind.label)) for kind in models.Equipment.Kind if kinds.get(kind)]
    lack = [f"no {kind.label}" for kind in models.Equipment.Kind if not kinds.get(kind)]
    needed = (models.Equipment.Kind.KILN, models.Equipment.Kind.FLASK, models.Equipment.Kind.CRUCIBLE)
    first = next((kind for kind in needed if not kinds.get(kind)), None)
    state, address = _say(have, lack), "inventory:equipment-list"
    if first is None:
        return SetupStep("Equipment", state, True, address)
    form = ("inventory:equipment-new", first.value)
    return SetupStep("Equipment", state, False, address, f"Write down a {first.label}", form=form)


def _shelf_step() -> SetupStep:
    title, action = "What is on the shelf", "Enter what is on the shelf"
    if is_stock_written():
        return SetupStep(title, "It is in the book.", True, "inventory:stock")
    state = "Nothing is in the book yet. Weigh the tins and tubs you have."
    return SetupStep(title, state, False, "inventory:opening", action, form=("inventory:opening",))


def _day_step() -> SetupStep:
    is_own = models.DayPractice.objects.exists()
    state = "Your own times and allowances." if is_own else "Common practice, until you say how you do it."
    return SetupStep("How we do a casting day", state, is_own, "inventory:day-practice", is_needed=False)


def _checklist_step() -> SetupStep:
    count = models.ChecklistItem.objects.count()
    state = (
        f"{_count(count, 'line')}." if count else "Empty. Say what is looked at before the metal is poured."
    )
    return SetupStep("Checklist before the pour", state, bool(count), "inventory:checklist", is_needed=False)


def _people_step() -> SetupStep:
    people = User.objects.aggregate(count=Count("pk", filter=Q(is_active=True)))["count"]
    state = "1 person may sign in." if people == 1 else f"{people} people may sign in."
    return SetupStep("People who sign in", state, True, "inventory:person-list", is_needed=False)


def _count(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def _say(have: list[str], lack: list[str]) -> str:
    """ "2 flasks, 1 kiln; no crucible yet." """
    parts = [", ".join(have)] if have else []
    if lack:
        parts.append(f"{', '.join(lack)} yet")
    sentence = "; ".join(parts)
    return f"{sentence[:1].upper()}{sentence[1:]}."
