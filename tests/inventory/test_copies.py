"""Copies of the studio: kept while others post, proved, brought back into an empty place, and never over a studio."""

import re
import sqlite3
import stat
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

import pytest
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore
from django.core.management import CommandError, call_command
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from inventory.copies.keeping import keep_copy
from inventory.models import KilnLog, Lot, Movement, Picture, Piece, Studio
from studio.kit.photo_files import folder_of, photo_file, photo_folder
from studio.kit.schema import WrongVersion
from tests import workshop as w
from tests.databases import FORK, in_processes, sqlite_address, standing_at
from tests.inventory.kiln_logs import keep as keep_log
from tests.inventory.pictures import keep_picture
from tests.support import problems


@pytest.fixture(autouse=True)
def _own_databases(unblocked_database: None) -> None:
    """Everything here goes to databases of its own."""


def manage(database_url: str, *arguments: str) -> str:
    """Run a command on that database; what it printed."""
    printed = StringIO()
    with standing_at(database_url):
        call_command(*arguments, stdout=printed)
    return printed.getvalue()


def keep(database_url: str, folder: Path) -> Path:
    return Path(manage(database_url, "backup", str(folder)).split("Kept ")[1].split(". ")[0])


def refusal(database_url: str, *arguments: str) -> str:
    """What it says instead of doing it."""
    with pytest.raises((CommandError, WrongVersion)) as refused:
        manage(database_url, *arguments)
    return str(refused.value)


def aside_of(printed: str) -> Path:
    return Path(printed.split(" lies in ")[1].splitlines()[0].removesuffix("."))


def name_of(database_url: str) -> str:
    with standing_at(database_url):
        return Studio.objects.get().name


def seals_of(database_url: str) -> list[str]:
    """Everything that was posted, in order."""
    with standing_at(database_url):
        return list(Movement.objects.order_by("pk").values_list("seal", flat=True))


def work_on(database_url: str) -> None:
    """Go on casting and buying there, and find that it all adds up."""
    with standing_at(database_url):
        w.cast_metal([(Lot.objects.earliest("pk"), 2)], [w.piece("Leaf", 1)], back="0.99")
        w.buy(w.wax(), w.g(100), 5)
        assert problems() == []


def set_up(database_url: str, name: str = "Heron Lane studio") -> str:
    """A studio with a cast in it, and Ada, who is signed in."""
    with standing_at(database_url):
        w.make_studio(name=name)
        User.objects.create_user("Ada", password="a hammer and tongs")
        w.cast_metal([(w.buy(w.grain(), w.g(100), 130), 50)], [w.piece("Leaf", 30)], back="19.9")
        session = SessionStore()
        session["who"] = "Ada"
        session.save()
    return database_url


def file_of(database_url: str) -> Path:
    return Path(database_url.removeprefix("sqlite:///"))


def run_sql(file: Path, statement: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(file)) as database, database:
        return database.execute(statement).fetchall()


def keep_while_others_post(folder: Path) -> None:
    """Two people cast while a third keeps two copies."""
    w.make_studio()
    lots = [w.buy(w.grain(), w.g(90_000), 900 + number).pk for number in range(2)]
    going, stop = FORK.Event(), FORK.Event()

    def cast_on(lot: int) -> None:
        while not stop.is_set():
            w.cast_metal([(Lot.objects.get(pk=lot), 2)], [w.piece("Leaf", 1)], back="0.99")
            going.set()
            stop.wait(0.02)

    posted_meanwhile = []
    with in_processes(*(partial(cast_on, lot) for lot in lots)) as people:
        try:
            assert going.wait(60)
            for _ in range(2):
                before = Movement.objects.count()
                assert keep_copy(folder).checked.problems == []
                posted_meanwhile.append(before < Movement.objects.count())
        finally:
            stop.set()
    assert [person.exitcode for person in people] == [0, 0]
    assert any(posted_meanwhile)


def drill(source: str, place: str, folder: Path) -> None:
    """Keep copies of `source` while others post, bring the last back into the empty `place`, and go on there."""
    with standing_at(source):
        keep_while_others_post(folder)
    *_, last = names = sorted(path.name for path in folder.iterdir())
    assert len(names) == 2
    assert "Everything adds up." in manage(place, "audit", str(folder / last))
    brought = manage(place, "restore", str(folder / last))
    assert "everything adds up" in brought
    assert "lies in" not in brought
    assert manage(place, "audit").endswith("Everything adds up.\n")
    assert name_of(place) == "Heron Lane studio"
    # What was brought back is the beginning of what there is now where the copy came from.
    seals, now = seals_of(place), seals_of(source)
    assert 2 < len(seals) <= len(now)
    assert seals == now[: len(seals)]
    work_on(place)


def test_a_copy_kept_while_others_post_comes_back_whole(fresh_sqlite_url: str, tmp_path: Path) -> None:
    drill(fresh_sqlite_url, sqlite_address(tmp_path / "elsewhere" / "new.sqlite3"), tmp_path / "copies")


def test_and_so_on_a_server(fresh_postgres_url: str, bare_postgres_url: str, tmp_path: Path) -> None:
    drill(fresh_postgres_url, bare_postgres_url, tmp_path / "copies")


def test_a_studio_moves_from_a_file_to_a_server(
    fresh_sqlite_url: str, fresh_postgres_url: str, tmp_path: Path
) -> None:
    with standing_at(set_up(fresh_sqlite_url)):
        log = keep_log(w.fire())
        log.refresh_from_db()
        figures, rates = log.figures, log.rates
    copy = keep(fresh_sqlite_url, tmp_path)
    manage(fresh_postgres_url, "restore", str(copy))
    with standing_at(fresh_postgres_url):
        moved = KilnLog.objects.get()
        assert (moved.figures, moved.rates) == (figures, rates) and rates["climbs"]
    assert seals_of(fresh_postgres_url) == seals_of(fresh_sqlite_url)
    work_on(fresh_postgres_url)


def test_a_copy_is_for_its_owner_only_and_signs_nobody_in(real_database: str, tmp_path: Path) -> None:
    folder = tmp_path / "new" / "copies"
    copy = keep(set_up(real_database), folder)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert [path.name for path in folder.iterdir()] == [copy.name]
    assert run_sql(copy, "SELECT count(*) FROM django_session") == [(0,)]
    assert run_sql(copy, "SELECT username FROM auth_user") == [("Ada",)]


def test_no_copy_is_written_over_and_only_the_newest_stay_when_asked(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    others = tmp_path / "notes.txt", tmp_path / "demo-2026-01-01-000000.sqlite3"
    for other in others:
        other.touch()
    stem = file_of(fresh_sqlite_url).stem
    names = [f"{stem}-2026-03-02-184530{number}.sqlite3" for number in ("", "-2", "-3")]
    with standing_at(fresh_sqlite_url):
        with patch.object(timezone, "localtime", lambda: datetime(2026, 3, 2, 18, 45, 30, tzinfo=UTC)):
            assert [keep_copy(tmp_path).file.name for _ in names] == names
        with patch.object(timezone, "localtime", lambda: datetime(2026, 3, 3, tzinfo=UTC)):
            dropped = keep_copy(tmp_path, keep=2).dropped
    assert [path.name for path in dropped] == names[:2]
    assert (tmp_path / names[2]).exists()
    assert all(other.exists() for other in others)


def test_a_number_of_copies_below_one_is_refused(fresh_sqlite_url: str) -> None:
    assert "from 1 upward" in refusal(fresh_sqlite_url, "backup", "--keep=0")


class SmallDisk(sqlite3.Connection):
    """A file that SQLite itself finds no room for."""

    def __init__(self, file: Path) -> None:
        super().__init__(file)
        self.execute("PRAGMA max_page_count=5")


def test_a_folder_that_is_none_and_a_full_disk_are_said(fresh_sqlite_url: str, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "file: Not a directory" in refusal(fresh_sqlite_url, "backup", str(tmp_path / "file"))
    with patch("inventory.copies.keeping.sqlite3", SimpleNamespace(connect=SmallDisk)):
        assert "or disk is full" in refusal(fresh_sqlite_url, "backup", str(tmp_path / "new"))
    assert list((tmp_path / "new").iterdir()) == []


def test_a_studio_that_is_here_stays_unless_it_is_put_aside(real_database: str, tmp_path: Path) -> None:
    copy = keep(set_up(real_database), tmp_path)
    with standing_at(real_database):
        Studio.objects.update(name="Quarry Row")
    assert refusal(real_database, "restore", str(copy)).startswith("There is a studio here already.")
    assert name_of(real_database) == "Quarry Row"

    aside = aside_of(manage(real_database, "restore", str(copy), "--replace"))
    assert name_of(real_database) == "Heron Lane studio"
    assert stat.S_IMODE(aside.stat().st_mode) == 0o600
    assert name_of(sqlite_address(aside)) == "Quarry Row"
    work_on(real_database)


def test_a_crash_before_the_copy_is_in_place_leaves_the_studio_where_it_was(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    copy = keep(set_up(fresh_sqlite_url), tmp_path)
    with standing_at(fresh_sqlite_url):
        Studio.objects.update(name="Quarry Row")
    with (
        patch("inventory.copies.restoring.settle", side_effect=KeyboardInterrupt),
        pytest.raises(KeyboardInterrupt),
    ):
        manage(fresh_sqlite_url, "restore", str(copy), "--replace")
    assert name_of(fresh_sqlite_url) == "Quarry Row"


def test_a_copy_that_does_not_add_up_is_kept_apart_and_not_brought_back_unasked(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    good = keep(set_up(fresh_sqlite_url), tmp_path)
    run_sql(
        file_of(fresh_sqlite_url), "UPDATE inventory_holder SET quantity = quantity + 1 WHERE kind = 'lot'"
    )
    with pytest.raises(SystemExit, match="1"):
        manage(fresh_sqlite_url, "backup", str(tmp_path), "--keep=1")
    (doubtful,) = tmp_path.glob("*-doubtful.sqlite3")
    assert good.exists()

    place = sqlite_address(tmp_path / "place" / "new.sqlite3")
    assert "The copy does not add up: " in refusal(place, "restore", str(doubtful))
    assert "There is no studio" in refusal(place, "audit")
    assert "wrong in it" in manage(place, "restore", str(doubtful), "--anyway")


def test_what_is_no_copy_is_refused_and_leaves_nothing_behind(fresh_sqlite_url: str, tmp_path: Path) -> None:
    copy = keep(fresh_sqlite_url, tmp_path)
    letter, torn, other, newer = (tmp_path / name for name in ("letter", "torn", "other", "newer"))
    letter.write_text("not a copy")
    torn.write_bytes(copy.read_bytes()[:5000] + b"\xff" * 50_000)
    newer.write_bytes(copy.read_bytes())
    run_sql(newer, "INSERT INTO django_migrations VALUES (999, 'inventory', '9999_to_come', '2030-01-01')")
    run_sql(other, "CREATE TABLE a (b)")
    place = tmp_path / "place"
    for file, told in (
        (tmp_path / "none", "cannot be read: No such file"),
        (letter, "is no copy of a studio"),
        (torn, "is damaged"),
        (other, "there is no studio in it"),
        (newer, "newer version of the studio"),
    ):
        assert told in refusal(sqlite_address(place / "new.sqlite3"), "restore", str(file))
    assert [path.name for path in place.iterdir() if path.name.startswith(".")] == []


def test_a_damaged_studio_is_put_aside_as_it_is(fresh_sqlite_url: str, tmp_path: Path) -> None:
    copy = keep(set_up(fresh_sqlite_url), tmp_path / "copies")
    file_of(fresh_sqlite_url).write_bytes(b"\xff" * 30_000)
    assert "There is a studio here already" in refusal(fresh_sqlite_url, "restore", str(copy))
    aside = aside_of(manage(fresh_sqlite_url, "restore", str(copy), "--replace"))
    assert aside.read_bytes() == b"\xff" * 30_000
    assert name_of(fresh_sqlite_url) == "Heron Lane studio"


def test_a_studio_that_is_open_is_not_taken_from_under_its_people(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    copy = keep(set_up(fresh_sqlite_url), tmp_path / "copies")
    with closing(sqlite3.connect(file_of(fresh_sqlite_url))) as somebody:
        somebody.execute("SELECT * FROM inventory_studio")
        assert "The studio is open. Close it" in refusal(fresh_sqlite_url, "restore", str(copy), "--replace")
    work_on(fresh_sqlite_url)


def test_a_copy_of_an_older_version_is_brought_up_to_date(fresh_sqlite_url: str, tmp_path: Path) -> None:
    """By the single steps, which make what a new database gets at once."""
    older = tmp_path / "older.sqlite3"
    with standing_at(sqlite_address(older)), patch.object(MigrationLoader, "load_disk", _load_steps):
        for app, version in (("inventory", "0003"), ("auth", "0012"), ("sessions", "0001")):
            call_command("migrate", app, version, verbosity=0)
    as_it_was = older.read_bytes()
    place = sqlite_address(tmp_path / "new.sqlite3")
    assert "not up to date" in refusal(place, "audit", str(older))
    assert "everything adds up" in manage(place, "restore", str(older))
    assert manage(place, "audit").endswith("Everything adds up.\n")
    assert older.read_bytes() == as_it_was
    assert shape_of(place) == shape_of(fresh_sqlite_url)


_load_disk = MigrationLoader.load_disk


def _load_steps(loader: MigrationLoader) -> None:
    """Those that stand for several others are not there, as in an older version."""
    _load_disk(loader)
    steps = {key: step for key, step in loader.disk_migrations.items() if not step.replaces}
    loader.disk_migrations = steps


def shape_of(database_url: str) -> dict[str, list[str]]:
    """What a database is made of: its tables, indexes and triggers in words, in any order, and the places in it."""
    with closing(sqlite3.connect(file_of(database_url))) as database:
        made = database.execute(
            "SELECT name, sql FROM sqlite_master WHERE sql <> '' AND name NOT LIKE 'sqlite_%'"
        )
        shape = {name: sorted(re.findall(r"[^\s,()]+", sql)) for name, sql in made}
        places = database.execute("SELECT place FROM inventory_holder WHERE kind = 'outside'")
        return shape | {"places": sorted(place for (place,) in places)}


def with_pictures(database_url: str) -> dict[str, bytes]:
    """Two pictures in a studio; what their files hold, by name."""
    set_up(database_url)
    with standing_at(database_url):
        lot = Lot.objects.earliest("pk")
        kept = [keep_picture("lot", "the bag", lot=lot), keep_picture("piece", piece=Piece.objects.get())]
        return {file.name: file.read_bytes() for one in kept for file in files_of(one)}


def files_of(picture: Picture) -> list[Path]:
    return [photo_file(picture.name, size) for size in ("large", "small")]


def pictures_at(database_url: str) -> dict[str, bytes]:
    with standing_at(database_url):
        folder = photo_folder()
        return {file.name: file.read_bytes() for file in folder.iterdir()} if folder.exists() else {}


def test_pictures_are_in_the_copy_and_come_back_in_a_folder_of_their_owners(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    files = with_pictures(fresh_sqlite_url)
    copy = keep(fresh_sqlite_url, tmp_path / "copies")
    assert run_sql(copy, "SELECT count(*) FROM copied_pictures") == [(2,)]
    told = manage(fresh_sqlite_url, "audit", str(copy))
    assert "its files, and they are what was taken in: 2 checked, all well" in told
    place = sqlite_address(tmp_path / "elsewhere" / "new.sqlite3")
    assert "everything adds up" in manage(place, "restore", str(copy))
    assert pictures_at(place) == files
    assert manage(place, "audit").endswith("Everything adds up.\n")
    assert stat.S_IMODE(folder_of(file_of(place)).stat().st_mode) == 0o700
    # The studio itself keeps them in the folder alone.
    with pytest.raises(sqlite3.OperationalError):
        run_sql(file_of(place), "SELECT 1 FROM copied_pictures")


def test_a_copy_brought_back_takes_the_place_of_later_pictures_and_those_are_put_aside(
    real_database: str, tmp_path: Path
) -> None:
    files = with_pictures(real_database)
    copy = keep(real_database, tmp_path / "copies")
    with standing_at(real_database):
        Picture.objects.earliest("pk").delete()
        keep_picture(lot=Lot.objects.earliest("pk"))
    later = pictures_at(real_database)
    aside = aside_of(manage(real_database, "restore", str(copy), "--replace"))
    assert pictures_at(real_database) == files
    assert manage(real_database, "audit").endswith("Everything adds up.\n")
    # And back again to what was put aside, pictures and all.
    manage(real_database, "restore", str(aside), "--replace")
    assert pictures_at(real_database) == later
    assert manage(real_database, "audit").endswith("Everything adds up.\n")


def test_a_copy_that_lacks_a_picture_is_doubtful(fresh_sqlite_url: str, tmp_path: Path) -> None:
    with_pictures(fresh_sqlite_url)
    with standing_at(fresh_sqlite_url):
        photo_file(Picture.objects.earliest("pk").name).unlink()
    with pytest.raises(SystemExit, match="1"):
        manage(fresh_sqlite_url, "backup", str(tmp_path))
    assert len(list(tmp_path.glob("*-doubtful.sqlite3"))) == 1


def test_a_picture_removed_while_a_copy_is_written_is_left_out_of_it(
    fresh_sqlite_url: str, tmp_path: Path
) -> None:
    from inventory.copies import keeping

    with_pictures(fresh_sqlite_url)
    own = keeping.take_along

    def remove_first(folder: Path) -> set[str]:
        with standing_at(fresh_sqlite_url):
            Picture.objects.earliest("pk").delete()
        return own(folder)

    with patch.object(keeping, "take_along", remove_first):
        copy = keep(fresh_sqlite_url, tmp_path)
    assert run_sql(copy, "SELECT count(*) FROM inventory_picture") == [(1,)]
