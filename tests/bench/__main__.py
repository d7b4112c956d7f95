"""Build studios of one and of ten years, measure, and print one table."""

import io
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from tests.databases import ROOT, sqlite_address

PAGES = (
    "/", "/casts/", "/casts/1/", "/casts/1/cost/", "/pieces/", "/pieces/1/", "/pieces/1/cost/", "/stock/",
    "/stock/lots/", "/stock/lots/1/", "/buying/", "/buying/deliveries/", "/firings/", "/ledger/", "/ledger/1/",
    "/reports/", "/reports/cast-cost/?cast=1", "/reports/metal-loss/", "/setup/",
)  # fmt: skip


def main() -> None:
    if len(sys.argv) > 1:
        _setup()
        sys.stdout.write(repr(WORK[sys.argv[1]](*sys.argv[2:])) + "\n")
        return
    with tempfile.TemporaryDirectory(prefix="studio-bench-") as name:
        folder = Path(name)
        for years in (1, 10):
            seconds, _ = run_in(folder / f"{years}.sqlite3", "build", str(years))
            say(f"built {years} year(s)", f"{seconds:.0f} s")
        posted, _ = run_in(folder / "10.sqlite3", "posting", str(folder))
        say("casts posted a second", posted["rate"], "against plain sqlite3", posted["ratio"], "5")
        compare_pages(folder)
        paper, _ = run_in(folder / "10.sqlite3", "paper")
        say("PDF pages", paper["pages"], "against bare canvas", paper["ratio"], "3")
        audit, memory_mb = run_in(folder / "10.sqlite3", "audit")
        say("audit", f"{audit['seconds']:.2f} s", "limit", "3 s", "")
        say("audit's peak memory", f"{memory_mb} MB", "limit", "200 MB", "")
        lots, _ = run_in(folder / "10.sqlite3", "lots")
        say("10,000 issues", f"{lots['ours_ms']:.0f} ms", "against beancount", lots["ratio"], "1")


def say(what: str, figure: object, against: str = "", ratio: object = "", limit: str = "") -> None:
    shown = f"{ratio:.2f}" if isinstance(ratio, float) else str(ratio)
    bound = f"(at most {limit})" if limit else ""
    sys.stdout.write(f"{what:<32}{figure!s:>14}   {against} {shown} {bound}\n")
    sys.stdout.flush()


def run_in(database: Path, work: str, *arguments: str) -> tuple:
    """Do one piece of work in a process of its own; its result and its peak memory in MB."""
    environment = os.environ | {"DATABASE_URL": sqlite_address(database)}
    command = [sys.executable, "-m", "tests.bench", work, *arguments]
    done = subprocess.run(command, check=False, env=environment, cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    return eval(done.stdout.splitlines()[-1])


def compare_pages(folder: Path) -> None:
    # In turn and more than once, because a machine is now fast and now slow: the best of each is compared.
    rounds = [[run_in(folder / f"{years}.sqlite3", "pages") for years in (1, 10)] for _ in range(3)]
    memory_mb = max(memory for _, (_, memory) in rounds)
    for page in PAGES:
        ms_one, ms = (min(one[years][0][page][0] for one in rounds) for years in (0, 1))
        queries_one, queries = (rounds[0][years][0][page][1] for years in (0, 1))
        same = "same queries" if queries == queries_one else f"QUERIES {queries_one} THEN {queries}"
        say(page, f"{ms:.0f} ms", f"{queries} queries, {same}, against one year", ms / ms_one, "1.3")
    say("server's peak memory", f"{memory_mb} MB", "limit", "200 MB")


def _setup() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    import django

    django.setup()


def _with_memory(result: object) -> tuple:
    return result, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def build(years: str) -> tuple:
    from django.core.management import call_command

    from tests.bench.copies import DECADE_DAYS, copy_decade
    from tests.bench.decade import Decade

    call_command("migrate", verbosity=0)
    started = time.perf_counter()
    copies = max(int(years) // 10 - 1, 0)
    Decade(date(2026, 10, 1) - timedelta(days=DECADE_DAYS * copies)).work(int(years) - 10 * copies)
    copy_decade(copies)
    return _with_memory(time.perf_counter() - started)


def posting(folder: str) -> tuple:
    from django.db import connection

    from inventory.models import Lot
    from tests import workshop as w
    from tests.bench.posting import PlainWriter, highest_ids, rows_between

    work, template = Path(folder) / "posting.sqlite3", Path(folder) / "template.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute(f"VACUUM INTO '{template}'")
    connection.close()
    shutil.copyfile(template, work)
    connection.settings_dict["NAME"] = str(work)
    silver, mould = w.buy(w.grain(), w.g(90_000), 99_000), w.buy(w.powder(), w.g(90_000), 400)
    with connection.cursor() as cursor:
        template.unlink()
        cursor.execute(f"VACUUM INTO '{template}'")
    silver, mould = (Lot.objects.select_related("material__alloy").get(pk=lot.pk) for lot in (silver, mould))
    sterling, plain = w.sterling(), PlainWriter(template, Path(folder) / "plain.sqlite3", touched=2)
    spent, plain_spent = [], []
    for _ in range(120):
        before = highest_ids()
        started = time.perf_counter()
        w.cast_metal(
            [(silver, 80)],
            [w.piece(name, 9) for name in ("Leaf", "Stud", "Pod", "Bud")],
            back="43.4",
            alloy=sterling,
            powder=[w.Portion(mould, w.g(560))],
        )
        spent.append(time.perf_counter() - started)
        # One after the other, so that a busy moment of the machine falls on both.
        plain_spent.append(plain.write(rows_between(before, highest_ids())))
    ours, theirs = statistics.median(spent), statistics.median(plain_spent)
    return _with_memory({"rate": f"{1 / ours:.0f}", "ratio": ours / theirs})


def pages() -> tuple:
    from django.contrib.auth.models import User
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    user, _ = User.objects.get_or_create(username="bench")
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(user)
    measured = {}
    for page in PAGES:
        if (status := client.get(page).status_code) != 200:
            sys.exit(f"{page} answered {status}")
        times = [_milliseconds(lambda page=page: client.get(page)) for _ in range(5)]
        with CaptureQueriesContext(connection) as queries:
            client.get(page)
        measured[page] = (statistics.median(times), len(queries))
    return _with_memory(measured)


def _milliseconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return (time.perf_counter() - started) * 1000


def paper() -> tuple:
    from reportlab.pdfgen.canvas import Canvas

    from studio.kit.documents import Column, Document, Table
    from studio.kit.pdf import render_pdf

    columns = [Column("n", "Cast", "count"), *(Column(f"c{i}", f"Column {i}", "mass") for i in range(7))]
    rows = [(number, *(number * 1000 + i for i in range(7))) for number in range(4_500)]
    document = Document(
        name="bench", title="Bench", subtitle="", studio="Heron Lane", made_on=date(2026, 10, 1),
        period_text="", blocks=(Table("Rows", tuple(columns), tuple(rows)),), filename="bench",
    )  # fmt: skip
    ours = min(_milliseconds(lambda: render_pdf(document)) for _ in range(3))

    def bare() -> None:
        canvas = Canvas(io.BytesIO())
        for page in range(100):
            for line in range(45):
                for column in range(8):
                    canvas.drawString(40 + 60 * column, 800 - 16 * line, f"{page * 45 + line:,}.00 g")
            canvas.showPage()
        canvas.save()

    plain = min(_milliseconds(bare) for _ in range(3))
    return _with_memory({"pages": f"{ours:.0f} ms", "ratio": ours / plain})


def audit() -> tuple:
    from inventory.audit import run_audit

    started = time.perf_counter()
    problems = [problem for finding in run_audit() for problem in finding.problems]
    seconds = time.perf_counter() - started
    if problems:
        sys.exit("\n".join(problems[:20]))
    return _with_memory({"seconds": seconds})


def lots() -> tuple:
    from decimal import Decimal

    from beancount.core import inventory as bean_inventory
    from beancount.core.amount import Amount as BeanAmount
    from beancount.core.position import Cost

    from inventory.core.ledger import Amount, draw

    def ours() -> None:
        held = [Amount(10_000_000, 9_250_000_000, 12_000_000_000) for _ in range(50)]
        for number in range(10_000):
            held[number % 50] -= draw(held[number % 50], 37)

    def theirs() -> None:
        judge = bean_inventory.Inventory()
        costs = [Cost(Decimal(1200), "GBP", date(2026, 1, 1), f"lot-{number}") for number in range(50)]
        for cost in costs:
            judge.add_amount(BeanAmount(Decimal(10_000_000), "SILVER"), cost)
        for number in range(10_000):
            judge.add_amount(BeanAmount(Decimal(-37), "SILVER"), costs[number % 50])

    ours_ms, theirs_ms = (min(_milliseconds(work) for _ in range(3)) for work in (ours, theirs))
    return _with_memory({"ours_ms": ours_ms, "ratio": ours_ms / theirs_ms})


WORK: dict[str, Callable[..., tuple]] = {
    "build": build, "posting": posting, "pages": pages, "paper": paper, "audit": audit, "lots": lots
}  # fmt: skip

if __name__ == "__main__":
    main()
