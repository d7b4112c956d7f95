"""The audit reads the books row by row and as of one moment; each row that was tampered with is named."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection, transaction

from inventory.audit.checks import check_balances
from inventory.audit.reading import Ledger
from inventory.audit.registry import Finding, checks
from inventory.models import Entry, Lot, Movement
from inventory.posting.reversal import post_reversal
from tests import workshop as w
from tests.databases import standing_at
from tests.support import problems


@contextmanager
def tampered(*statements: str) -> Iterator[None]:
    """The books after some SQL that the guards would have refused; as they were when it is over."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            for table in ("entry", "movement"):
                on_table = "" if connection.vendor == "sqlite" else f" ON inventory_{table}"
                for verb in ("update", "delete"):
                    cursor.execute(f"DROP TRIGGER inventory_{table}_no_{verb}{on_table}")
            for statement in statements:
                cursor.execute(statement)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def cast(db: None):
    w.make_studio()
    lot = w.buy(w.grain(), w.g(100), 130)
    return w.cast_metal([(lot, 50)], [w.piece("Leaf", 30)], back="19.9")


def test_entries_come_in_order_each_with_its_own_lines(cast):
    walked = list(Ledger().postings())
    assert [entry.pk for entry, _ in walked] == list(
        Entry.objects.order_by("pk").values_list("pk", flat=True)
    )
    for entry, rows in walked:
        assert [(row.entry, row.line) for row in rows] == [(entry.pk, n + 1) for n in range(entry.line_count)]


def test_entries_of_one_kind_come_with_their_lines_alone(cast):
    [(entry, rows)] = Ledger().postings(Entry.Kind.CLOSE)
    assert entry.cast_id == cast.pk
    assert [row.pk for row in rows] == list(
        Movement.objects.filter(entry__kind=Entry.Kind.CLOSE).order_by("line").values_list("pk", flat=True)
    )


def test_a_line_that_went_missing_is_named(cast):
    close = Entry.objects.get(kind=Entry.Kind.CLOSE)
    with tampered(f"DELETE FROM inventory_movement WHERE entry_id = {close.pk} AND line = 1"):
        assert f"entry {close.pk} has 2 lines and should have 3" in problems()


def test_an_entry_that_lost_all_its_lines_is_named(cast):
    close = Entry.objects.get(kind=Entry.Kind.CLOSE)
    with tampered(f"DELETE FROM inventory_movement WHERE entry_id = {close.pk}"):
        assert f"entry {close.pk} has 0 lines and should have 3" in problems()
        assert dict(Ledger().postings())[next(e for e in Ledger().entries() if e.pk == close.pk)] == []


def test_lines_whose_entry_went_missing_are_counted(cast):
    charge = Entry.objects.get(kind=Entry.Kind.CHARGE)
    with tampered(f"DELETE FROM inventory_entry WHERE id = {charge.pk}"):
        assert "1 movements belong to no entry" in problems()
        assert [entry.pk for entry, _ in Ledger().postings()] == list(
            Entry.objects.order_by("pk").values_list("pk", flat=True)
        )


def test_a_reversal_that_does_not_mirror_its_entry_is_named(cast):
    close = Entry.objects.get(kind=Entry.Kind.CLOSE)
    reversal = post_reversal(close)
    assert problems() == []
    with tampered(f"UPDATE inventory_movement SET quantity = quantity + 1 WHERE entry_id = {reversal.pk}"):
        assert f"entry {reversal.pk} does not mirror entry {close.pk}" in problems()


def test_what_is_posted_while_the_audit_runs_is_no_finding(
    real_database: str, unblocked_database: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def post() -> None:
        w.cast_metal([(Lot.objects.get(pk=lot), 50)], [w.piece("Leaf", 30)], back="19.9")
        connection.close()

    def post_meanwhile(ledger: Ledger) -> Finding:
        writer = threading.Thread(target=post)
        writer.start()
        writer.join()
        return check_balances(ledger)

    def read_sums(ledger: Ledger) -> Finding:
        return Finding("sums are read", checked=len(ledger.sums))

    at = checks.index(check_balances)
    monkeypatch.setattr(
        "inventory.audit.checks", [read_sums, *checks[:at], post_meanwhile, *checks[at + 1 :]]
    )
    with standing_at(real_database):
        w.make_studio()
        lot = w.buy(w.grain(), w.g(100), 130).pk
        assert problems() == []
        assert Entry.objects.count() == 3
        assert not connection.in_atomic_block
