"""Two people in the same second, for real: threads on the database that the process stands on."""

import sqlite3
import threading
import uuid
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.utils import timezone

from inventory.copies.keeping import keep_copy
from inventory.core.occupied import find_clashes
from inventory.models import Entry, Plan, Studio
from inventory.posting.casting import CastFacts, Portion, post_charge, post_start
from inventory.posting.mending import Mend, post_mended, read_given
from inventory.posting.moving import move_day
from inventory.posting.ordering import Ordered, place_order
from inventory.posting.planning import post_begin, save_plan
from inventory.posting.refusal import Refused
from inventory.queries.occupied import Taken, clashes_of
from inventory.queries.orders import read_order
from inventory.queries.plan_figures import work_out
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.hands import BY_KIND, HANDS, Hand, Scene
from tests.inventory.test_views_casting import rows
from tests.support import problems

#: Says how it went: "posted", "refused", or the status of the answer.
Act = Callable[[], str]
Send = tuple[str, dict[str, Any]]
#: Posted and led on, said no to, or what it was sent to is no longer there.
ANSWERS = {"200", "302", "404", "422"}


def at_once(acts: list[Act]) -> list[str]:
    """Do all at the same moment, each in a thread; how each went, a fault by its own words."""
    ready = threading.Barrier(len(acts))
    outcomes: list[str] = []

    def run(act: Act) -> None:
        try:
            ready.wait()
            outcomes.append(act())
        except Exception as fault:
            outcomes.append(repr(fault))
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[act]) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(outcomes)


def race_postings() -> list[str]:
    """Every kind against itself, and against its own reversal, each pair in the same scene; what went wrong."""
    w.make_studio()
    scene, wrong = Scene(), []
    set_back, kinds = _kept_as_it_is(), len(BY_KIND)
    for pair in [*zip(HANDS, HANDS, strict=True), *zip(HANDS[:kinds], HANDS[kinds : 2 * kinds], strict=True)]:
        set_back()
        outcomes = at_once([_posting(hand, scene) for hand in pair])
        # Who was refused wrote nothing: then the other posted as if alone, which the histories judge.
        found = problems() if outcomes == ["posted", "posted"] else []
        if found or not set(outcomes) <= {"posted", "refused"}:
            wrong.append(f"{' and '.join(hand.name for hand in pair)}: {outcomes}, {found}")
    return wrong


#: Every table in a second schema; and what stands there back in its place. Rows that never change are put back too.
_KEEP_ON_SERVER = """
CREATE SCHEMA kept;
DO $$ DECLARE name text; BEGIN
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' LOOP
        EXECUTE format('CREATE TABLE kept.%1$I AS TABLE public.%1$I', name);
    END LOOP;
END $$
"""
_SET_BACK_ON_SERVER = """
SET session_replication_role = replica;
DO $$ DECLARE name text; BEGIN
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'kept' LOOP
        EXECUTE format('DELETE FROM public.%1$I', name);
        EXECUTE format('INSERT INTO public.%1$I TABLE kept.%1$I', name);
    END LOOP;
END $$;
RESET session_replication_role
"""


def _kept_as_it_is() -> Callable[[], None]:
    """Keep what is in the database now; what is returned brings it back, in a tenth of the time of making it again."""
    if connection.vendor == "sqlite":
        name = str(connection.settings_dict["NAME"])
        kept = f"{name}_kept"
        _copy_file(name, kept)
        return lambda: _copy_file(kept, name)
    _run_on_server(_KEEP_ON_SERVER)
    return lambda: _run_on_server(_SET_BACK_ON_SERVER)


def _copy_file(source: str, target: str) -> None:
    connection.close()
    with closing(sqlite3.connect(source)) as there, closing(sqlite3.connect(target)) as here:
        there.backup(here)


def _run_on_server(statements: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statements)


def _posting(hand: Hand, scene: Scene) -> Act:
    return refusable(hand.read(scene))


def race_mends(folder: Path) -> list[str]:
    """A mend of the metal beside a plan that takes it, one that begins, and a copy of it all; what went wrong."""
    w.make_studio()
    metal = plans.stock()["fresh"]
    entry, plan = metal.entry, plans.plan()
    given = read_given(entry)
    less = replace(given, lines=[replace(given.lines[0], quantity=w.g(150))])
    copies: list[str] = []

    def copy() -> str:
        copies.extend(keep_copy(folder).checked.problems)
        return "copied"

    acts = {
        "mended": lambda: post_mended({entry: Mend(entry.day, less)}),
        "planned": plans.plan,
        "begun": lambda: post_begin(plan),
    }
    outcomes = at_once([*(_doing(name, act) for name, act in acts.items()), copy])
    went = [] if outcomes == sorted([*acts, "copied"]) else outcomes
    metal.holder.refresh_from_db()
    left = [] if metal.holder.quantity == w.g(150) else [f"{metal.holder.quantity} mg are left"]
    return [*went, *left, *copies, *problems()]


def _doing(name: str, act: Callable[[], object]) -> Act:
    def do() -> str:
        act()
        return name

    return do


def race_plans() -> list[str]:
    """Two flasks alike into one firing, two plans on one kiln, two days to one free time; what went wrong."""
    w.make_studio()
    plans.stock(fresh="1000", powder="20000", wax="500")
    studio, noon = Studio.objects.get(), timezone.now().replace(hour=12, minute=0, second=0, microsecond=0)

    def work(title: str, days: int, flask: str) -> Any:
        at = plans.day_draft(noon + timedelta(days))
        return work_out(plans.draft(title=title, day=at, flask=plans.flask(flask), crucible=None), studio)

    day = save_plan(work("Leaves", 2, "First")).day
    alike = [work(title, 2, "Second") for title in ("Buds", "Pods")]
    went = [at_once([refusable(lambda one=one: save_plan(one, day=day)) for one in alike])]
    apart = [work(title, 9, title) for title in ("Cones", "Ferns")]
    went.append(at_once([refusable(lambda one=one: save_plan(one)) for one in apart]))
    # Both are on the kiln now, and each is told of the other.
    cones, ferns = (Plan.objects.select_related("day").get(title=title) for title in ("Cones", "Ferns"))
    told = [len(clashes_of(plan).lines) for plan in (cones, ferns)]
    moves = [(cones.day, -96), (ferns.day, -96)]
    went.append(at_once([refusable(lambda one=one: move_day(one[0], one[1], 0)) for one in moves]))
    wanted = [["posted", "refused"], ["posted", "posted"], ["posted", "refused"]]
    left = [len(find_clashes(Taken(noon).spans))]
    return [repr(found) for found in (went, told, left) if found not in (wanted, [1, 1], [0])]


def refusable(post: Callable[[], object]) -> Act:
    def act() -> str:
        try:
            post()
        except Refused:
            return "refused"
        return "posted"

    return act


def race_requests(rounds: int) -> list[str]:
    """Forms sent in at once, each with a key of its own; what went wrong."""
    w.make_studio()
    user = User.objects.create_user("Ada")
    w.buy(w.grain(), w.g(5_000), 6_000)
    wrong = []
    for _ in range(rounds):
        for case in CASES:
            sends, most = case()
            before = Entry.objects.count()
            answers = at_once([_sending(user, *send) for send in sends])
            posted = Entry.objects.count() - before
            if not set(answers) <= ANSWERS or not 1 <= posted <= most:
                wrong.append(f"{case.__name__}: {answers}, {posted} entries")
    return wrong + problems()


def _sending(user: User, address: str, typed: dict[str, Any]) -> Act:
    client = Client(SERVER_NAME="127.0.0.1", raise_request_exception=False)
    client.force_login(user)
    data = {"once": str(uuid.uuid4()), "day": w.DAY.isoformat(), **typed}
    return lambda: str(client.post(address, data).status_code)


def _silver() -> Any:
    return w.Lot.objects.filter(origin="bought").order_by("pk")[0]


def _leaf() -> Any:
    return w.cast_metal([(_silver(), 10)], [w.piece("Leaf", 4)], back="5.9").pieces.get()


def weights_and_charge() -> tuple[list[Send], int]:
    cast = post_start(CastFacts("ear studs", w.DAY, w.sterling()))
    post_charge(cast, [Portion(_silver(), w.g(10))], w.DAY)
    weights = {"back": "3.5", **rows("pieces", {"name": "Hoop", "count": "1", "mass": "6", "patterns": ""})}
    charge = rows("charge", {"what": f"lot-{_silver().pk}", "mass": "0.01"})
    return [(f"/casts/{cast.number}/weights/", weights), (f"/casts/{cast.number}/charge/", charge)], 2


def sold_and_melted() -> tuple[list[Send], int]:
    leaf = _leaf()
    return [(f"/pieces/{leaf.pk}/gone/", {}), (f"/pieces/{leaf.pk}/melt/", {})], 1


def melted_three_times() -> tuple[list[Send], int]:
    return [(f"/pieces/{_leaf().pk}/melt/", {})] * 3, 1


def sold_three_times() -> tuple[list[Send], int]:
    return [(f"/pieces/{_leaf().pk}/gone/", {})] * 3, 1


def closing_reversed_and_piece_sold() -> tuple[list[Send], int]:
    leaf = _leaf()
    return [(f"/ledger/{leaf.entry_id}/reverse/", {}), (f"/pieces/{leaf.pk}/gone/", {})], 1


def delivery_billed_and_reversed() -> tuple[list[Send], int]:
    delivery = w.buy(w.grain(), w.g(10), 13).delivery
    bill = (f"/buying/deliveries/{delivery.pk}/", {"amount": "2"})
    return [bill, (f"/ledger/{delivery.entry_id}/reverse/", {})], 1


def lot_counted_and_delivery_reversed() -> tuple[list[Send], int]:
    lot = w.buy(w.grain(), w.g(10), 13)
    count = (f"/stock/lots/{lot.pk}/count/", {"counted": "12"})
    return [count, (f"/ledger/{lot.entry_id}/reverse/", {})], 1


def order_received_twice_and_closed() -> tuple[list[Send], int]:
    order = place_order(w.supplier(), [Ordered(w.powder(), w.g(9_000))], w.DAY)
    line = rows("lines", {"material": str(w.powder().pk), "quantity": "5 kg", "price": "15"})
    came = {"seen": read_order(order).seen, "spread_by": "value", **line}
    address = f"/buying/orders/{order.pk}"
    return [(f"{address}/receive/", came), (f"{address}/close/", {}), (f"{address}/receive/", came)], 1


def first_delivery_and_fineness() -> tuple[list[Send], int]:
    number = w.Alloy.objects.count()
    alloy = w.Alloy.objects.create(name=f"Alloy {number}", metal="silver", fineness=925, density_mg_cm3=10360)
    grain, supplier = w.grain(alloy), w.supplier()
    line = rows("lines", {"material": str(grain.pk), "quantity": "10", "price": "9"})
    delivery = {
        "supplier": str(supplier.pk),
        "spread_by": "value",
        "carriage": "",
        "duty": "",
        "tax": "",
        **line,
    }
    changed = {"name": alloy.name, "metal": "silver", "fineness": "500", "density_mg_cm3": "10.36"}
    parts = {"parts-TOTAL_FORMS": "0", "parts-INITIAL_FORMS": "0"}
    return [("/buying/deliveries/new/", delivery), (f"/setup/alloys/{alloy.pk}/", changed | parts)], 1


CASES = [
    weights_and_charge,
    sold_and_melted,
    melted_three_times,
    sold_three_times,
    closing_reversed_and_piece_sold,
    delivery_billed_and_reversed,
    lot_counted_and_delivery_reversed,
    order_received_twice_and_closed,
    first_delivery_and_fineness,
]
