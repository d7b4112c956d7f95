"""Build studios of one, of ten and of YEARS years (50 if not said), measure, and print one table."""

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
from itertools import pairwise
from pathlib import Path

from tests.databases import ROOT, sqlite_address

#: The first of its kind stands at the beginning of the books, {cast} and the others are the newest.
PAGES = (
    "/", "/casts/", "/casts/1/", "/casts/{cast}/", "/casts/1/cost/", "/casts/{cast}/cost/", "/casts/record/",
    "/pieces/", "/pieces/1/", "/pieces/{piece}/", "/pieces/1/cost/", "/pieces/{piece}/cost/",
    "/stock/", "/stock/lots/", "/stock/lots/1/", "/stock/lots/{lot}/",
    "/buying/", "/buying/order/", "/buying/materials/1/", "/buying/deliveries/",
    "/buying/deliveries/{delivery}/", "/firings/", "/firings/{firing}/",
    "/plans/", "/plans/new/", "/ledger/", "/ledger/1/", "/ledger/{entry}/", "/ledger/{entry}/reverse/",
    "/reports/", "/reports/cast-cost/?cast={cast}", "/reports/metal-loss/", "/reports/stock-value/",
    "/reports/plan-and-fact/", "/setup/", "/prices/",
    "/search/?q=sterling+leaf", "/stock/reclaim/", "/stock/batches/", "/casts/loss/",
    "/reports/trace-piece/?cast={cast}", "/reports/trace-lot/?lot=1", "/casts/evidence/", "/casts/{cast}/worth/",
)  # fmt: skip
#: A part of a word is looked for in every name, metal is followed through every melt, and all casts tell what goes with
#: failed ones: their limit is the one at ten years.
READ_ALL = ("/search/", "/reports/trace-", "/casts/evidence/", "/casts/{cast}/worth/")
Files = dict[int, Path]


class Results:
    """Prints each figure beside its limit as it comes, and at the end which were kept."""

    def __init__(self) -> None:
        self.met: list[str] = []
        self.missed: list[str] = []

    def say(
        self, what: str, figure: str, against: str = "", value: float = 0, limit: float | None = None
    ) -> None:
        """`value` is what the limit is for: the figure itself, or its ratio to what it is measured against."""
        bound = ""
        if limit is not None:
            (self.met if value <= limit else self.missed).append(what)
            ratio = f"{value:.2f}, " if against else ""
            bound = f"{ratio}at most {limit:g}" + ("" if value <= limit else "   MISSED")
        sys.stdout.write(f"{what:<42}{figure:>12}   {against} {bound}".rstrip() + "\n")
        sys.stdout.flush()

    def sum_up(self) -> None:
        which = f" ({', '.join(self.missed)})" if self.missed else ""
        sys.stdout.write(f"met {len(self.met)}, missed {len(self.missed)}{which}\n")


def main() -> None:
    if len(sys.argv) > 1:
        _setup()
        sys.stdout.write(repr(WORK[sys.argv[1]](*sys.argv[2:])) + "\n")
        return
    results, most = Results(), int(os.environ.get("YEARS") or 50)
    with tempfile.TemporaryDirectory(prefix="studio-bench-") as name:
        folder = Path(name)
        files = {years: folder / f"{years}.sqlite3" for years in sorted({1, 10, most})}
        for years, file in files.items():
            seconds, _ = run_in(file, "build", str(years))
            results.say(f"build {years} years", f"{seconds:.0f} s")
        compare_pages(results, files)
        compare_audits(results, files)
        posted, _ = run_in(files[10], "posting", str(folder))
        results.say("casts posted a second", posted["rate"], "against plain sqlite3", posted["ratio"], 3)
        paper, _ = run_in(files[10], "paper")
        results.say("PDF pages", paper["pages"], "against bare canvas", paper["ratio"], 3)
        lots, _ = run_in(files[10], "lots")
        results.say("10,000 issues", f"{lots['ours_ms']:.0f} ms", "against beancount", lots["ratio"], 1)
    results.sum_up()


def run_in(database: Path, work: str, *arguments: str) -> tuple:
    """Do one piece of work in a process of its own; its result and its peak memory in MB."""
    environment = os.environ | {"DATABASE_URL": sqlite_address(database)}
    command = [sys.executable, "-m", "tests.bench", work, *arguments]
    done = subprocess.run(command, check=False, env=environment, cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    return eval(done.stdout.splitlines()[-1])


def compare_pages(results: Results, files: Files) -> None:
    # In turn and more than once, because a machine is now fast and now slow: the best of each is compared.
    rounds = [{years: run_in(file, "pages") for years, file in files.items()} for _ in range(3)]
    ms = {
        (page, years): min(measured[years][0][page][0] for measured in rounds)
        for page in PAGES
        for years in files
    }
    for page in PAGES:
        results.say(f"{page} of 10 years", f"{ms[page, 10]:.0f} ms", "", ms[page, 10], 150)
        counts = {years: rounds[0][years][0][page][1] for years in files}
        for less, more in pairwise(files):
            told = f"{counts[more]} queries, against {less}" + (" year" if less == 1 else " years")
            # Below ten milliseconds nobody waits, and the figure is the machine's more than the page's.
            ratio = max(ms[page, more], 10) / max(ms[page, less], 10)
            limit = None if page.startswith(READ_ALL) else 1.3 if less == 1 else 1.5
            results.say(f"  of {more}: {page}", f"{ms[page, more]:.0f} ms", told, ratio, limit)
        results.say(f"  queries of {page}", str(counts[1]), "", max(counts.values()), counts[1])
    memory_mb = max(memory for measured in rounds for _, memory in measured.values())
    results.say("server's peak memory", f"{memory_mb} MB", "", memory_mb, 200)


def compare_audits(results: Results, files: Files) -> None:
    """An audit takes as long for each year of long books as for each of short ones, and no more room."""
    a_year = {}
    for years, file in files.items():
        audit, memory_mb = run_in(file, "audit")
        a_year[years] = audit["seconds"] / years
        results.say(f"audit of {years} years", f"{audit['seconds']:.2f} s")
        results.say(f"memory of an audit of {years} years", f"{memory_mb} MB", "", memory_mb, 150)
    long, short = max(files), 10
    if long > short:
        against = f"against {short} years, for each year"
        results.say(
            f"audit of {long} years", f"{a_year[long]:.3f} s", against, a_year[long] / a_year[short], 1.25
        )


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
    newest = newest_of_each()
    measured = {}
    for pattern in PAGES:
        page = pattern.format(**newest)
        if (status := client.get(page).status_code) != 200:
            sys.exit(f"{page} answered {status}")
        times = [_milliseconds(lambda page=page: client.get(page)) for _ in range(5)]
        with CaptureQueriesContext(connection) as queries:
            client.get(page)
        measured[pattern] = (min(times), len(queries))
    return _with_memory(measured)


def newest_of_each() -> dict[str, int]:
    """The key of the newest of everything that an address of `PAGES` names."""
    from inventory.models import Cast, Delivery, Entry, Firing, Lot, Piece

    newest = {
        kind.__name__.lower(): kind.objects.latest("pk").pk for kind in (Cast, Delivery, Firing, Lot, Piece)
    }
    newest["entry"] = Entry.objects.filter(kind=Entry.Kind.CLOSE).latest("pk").pk
    return newest


def _milliseconds(work: Callable[[], object]) -> float:
    """Of the processor: what others do on the machine meanwhile is not counted."""
    started = time.process_time()
    work()
    return (time.process_time() - started) * 1000


def paper() -> tuple:
    from reportlab.pdfgen.canvas import Canvas

    from studio.kit.documents import Column, Document, Table
    from studio.kit.pdf import render_pdf

    columns = [Column("n", "Cast", "count"), *(Column(f"c{i}", f"Column {i}", "mass") for i in range(7))]
    rows = [(number, *(number * 1000 + i for i in range(7))) for number in range(4_500)]
    document = Document(
        title="Bench", subtitle="", studio="Heron Lane", made_on=date(2026, 10, 1),
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

    started = time.process_time()
    problems = [problem for finding in run_audit() for problem in finding.problems]
    seconds = time.process_time() - started
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
