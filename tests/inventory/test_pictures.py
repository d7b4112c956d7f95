"""Pictures of pieces, casts and lots: taken in whole or not at all, shown to people of the studio, and removed."""

import os
import re
import stat
from html import unescape
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.test import Client

from inventory.models import Cast, Lot, Picture
from inventory.posting import pictures as posting
from inventory.posting.casting import CastFacts, post_start
from inventory.posting.pictures import sweep_files
from inventory.posting.unpoured import remove_begun
from studio.connections import FairParser
from studio.kit import photo_fields
from studio.kit.photo_files import YOUNG_SECONDS, new_name, photo_file, photo_folder, write_files
from studio.kit.photos import HEIC, NO_PICTURE
from tests import workshop as w
from tests.inventory.pictures import drawn, keep_picture, upload
from tests.kit.test_photos import bomb, with_place
from tests.support import once, problems, text_of
from tests.test_connections import Door, door  # noqa: F401 - a fixture

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(studio: Any) -> Lot:
    return w.buy(w.grain(), w.g(100), 130)


def send(bench: Client, lot: Lot, *files: Any, **said: Any) -> HttpResponse:
    return bench.post(
        f"/pictures/lot/{lot.pk}/", {**once(), "shows": "lot", "words": "", "chosen": list(files), **said}
    )


def names() -> set[str]:
    folder = photo_folder()
    return {file.name for file in folder.iterdir()} if folder.exists() else set()


def test_a_picture_taken_at_the_bench_is_kept_for_its_owner_only_and_shown(bench: Client, lot: Lot) -> None:
    before = names()
    answer = send(bench, lot, words="the bag's label", taken=[upload(content=with_place())])
    assert answer["Location"] == f"/pictures/lot/{lot.pk}/"
    [kept] = lot.pictures.all()
    large = photo_file(kept.name)
    assert names() - before == {large.name, photo_file(kept.name, "small").name}
    assert stat.S_IMODE(large.stat().st_mode) == 0o600
    assert stat.S_IMODE(large.parent.stat().st_mode) == 0o700
    assert b"Exif" not in large.read_bytes()
    page = text_of(bench.get(f"/stock/lots/{lot.pk}/"))
    assert f'src="/pictures/{kept.pk}/small.jpg" alt="the bag&#x27;s label"' in page

    shown = bench.get(f"/pictures/{kept.pk}/large.jpg")
    assert shown.content == large.read_bytes()
    assert shown["Content-Type"] == "image/jpeg"
    assert shown["X-Content-Type-Options"] == "nosniff"
    assert {"private", "no-store"} <= set(shown["Cache-Control"].replace(",", "").split())
    assert "img-src 'self'" in shown["Content-Security-Policy"]


def test_nobody_else_sees_it(client: Client, lot: Lot) -> None:
    kept = keep_picture(lot=lot)
    for address in (f"/pictures/{kept.pk}/large.jpg", f"/pictures/{kept.pk}/", f"/pictures/lot/{lot.pk}/"):
        assert client.get(address)["Location"].startswith("/sign-in/")


def test_the_camera_is_asked_for_one_and_the_phones_files_for_several(bench: Client, lot: Lot) -> None:
    page = text_of(bench.get(f"/pictures/lot/{lot.pk}/"))
    camera, files = (re.search(rf'<input[^>]* name="{name}"[^>]*>', page)[0] for name in ("taken", "chosen"))
    assert 'accept="image/*" capture="environment"' in camera and "multiple" not in camera
    assert "multiple" in files and "capture" not in files


def test_several_are_taken_at_once_and_twice_sent_is_kept_once(bench: Client, lot: Lot) -> None:
    key = once()
    for _ in range(2):
        send(bench, lot, upload(), upload(colour="red"), taken=[upload(colour="blue")], **key)
    assert lot.pictures.count() == 3


def test_what_is_refused_is_told_beside_the_field_and_nothing_is_kept(bench: Client, lot: Lot) -> None:
    before = names()
    svg = b'<svg xmlns="http://www.w3.org/2000/svg"/>'
    for files, sentence in (
        ([], "Take a picture, or choose one."),
        ([upload("letter.jpg", b"Dear studio")], NO_PICTURE),
        ([upload("drawing.svg", svg)], NO_PICTURE),
        ([upload("good.jpg"), upload("bad.jpg", svg)], f"bad.jpg: {NO_PICTURE}"),
        ([upload("bomb.png", bomb(10_000, 10_000))], "million pixels"),
        ([upload("torn.jpg", drawn()[:-200])], "damaged"),
        ([upload("phone.heic", b"\0\0\0\x18ftypheic" + bytes(40))], HEIC),
        ([upload()] * 11, "at most 10 pictures at once"),
    ):
        answer = send(bench, lot, *files, words="what I typed")
        assert answer.status_code == 422
        page = unescape(text_of(answer))
        assert sentence in page.split('id="id_chosen_error"')[1].split("</ul>")[0]
        assert 'value="what I typed"' in page
    assert not Picture.objects.exists()
    assert names() == before


def test_files_too_large_together_are_refused(
    bench: Client, lot: Lot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_fields, "MOST_BYTES_AT_ONCE", 900)
    assert "Send fewer" in text_of(send(bench, lot, upload(), upload()))
    assert not Picture.objects.exists()


def test_one_thing_has_so_many_pictures_and_no_more(
    bench: Client, lot: Lot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(posting, "MOST_OF_ONE", 2)
    keep_picture(lot=lot)
    before = names()
    assert "at most 2 pictures" in text_of(send(bench, lot, upload(), upload()))
    assert (lot.pictures.count(), names()) == (1, before)


def test_a_crash_between_file_and_row_leaves_no_row_and_its_file_is_swept_away(lot: Lot) -> None:
    keep_picture(lot=lot)
    kept = names()
    name = new_name()
    write_files(name, b"large", b"small")
    assert sweep_files() == 0  # its row may be on its way
    for size in ("large", "small"):
        os.utime(photo_file(name, size), (0, 0))
    other = photo_folder() / "notes.txt"
    other.touch()
    os.utime(other, (0, 0))
    assert sweep_files() == 2
    assert names() == kept | {other.name}
    other.unlink()
    assert YOUNG_SECONDS > 60


def test_a_full_disk_leaves_nothing(lot: Lot, monkeypatch: pytest.MonkeyPatch) -> None:
    before, sync = names(), os.fsync
    calls = iter([sync])

    def fill(handle: int) -> None:
        if next(calls, None) is None:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("studio.kit.photo_files.os.fsync", fill)
    with pytest.raises(OSError, match="No space"), transaction.atomic():
        keep_picture(lot=lot)
    assert (Picture.objects.count(), names()) == (0, before)


def test_a_removed_picture_takes_its_files_with_it_once_that_is_sure(
    bench: Client, lot: Lot, django_capture_on_commit_callbacks: Any
) -> None:
    kept, before = keep_picture(lot=lot), names()
    with django_capture_on_commit_callbacks() as callbacks:
        assert bench.post(f"/pictures/{kept.pk}/remove/")["Location"] == f"/pictures/lot/{lot.pk}/"
        assert names() == before
    assert not Picture.objects.exists()
    for callback in callbacks:
        callback()
    assert names() == before - {photo_file(kept.name).name, photo_file(kept.name, "small").name}
    assert bench.get(f"/pictures/{kept.pk}/large.jpg").status_code == 404


def test_so_does_a_cast_that_was_begun_by_mistake(
    studio: Any, django_capture_on_commit_callbacks: Any
) -> None:
    cast = post_start(CastFacts("a slip", w.DAY, w.sterling()))
    kept = keep_picture(cast=cast)
    with django_capture_on_commit_callbacks(execute=True):
        remove_begun(cast)
    assert not photo_file(kept.name).exists()


def test_words_of_a_picture_are_mended(bench: Client, lot: Lot) -> None:
    kept = keep_picture(lot=lot)
    assert bench.post(f"/pictures/{kept.pk}/", {"shows": "elsewhere", "words": "x"}).status_code == 422
    bench.post(f"/pictures/{kept.pk}/", {"shows": "failed", "words": "pits"})
    kept.refresh_from_db()
    assert (kept.shows, str(kept)) == ("failed", "pits")


def test_a_picture_is_of_exactly_one_thing(lot: Lot) -> None:
    kept = keep_picture(lot=lot)
    for wrong in ({"lot": None}, {"cast": post_start(CastFacts("leaves", w.DAY, w.sterling()))}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Picture.objects.filter(pk=kept.pk).update(**wrong)


def test_a_cast_shows_its_own_pictures_and_those_of_its_pieces(bench: Client, lot: Lot) -> None:
    cast = w.cast_metal([(lot, 50)], [w.piece("Leaf", 30)], back="19.9")
    piece = cast.pieces.get()
    kept = [keep_picture("failed", cast=cast), keep_picture("piece", piece=piece)]
    page = text_of(bench.get(f"/casts/{cast.number}/"))
    assert 'alt="The casting that failed"' in page and 'alt="The piece: Leaf"' in page
    assert all(f"/pictures/{one.pk}/small.jpg" in page for one in kept)
    assert f"/pictures/{kept[1].pk}/" in text_of(bench.get(f"/pieces/{piece.pk}/"))
    assert f'href="/pieces/{piece.pk}/"' in text_of(bench.get(f"/pictures/{kept[1].pk}/"))
    assert f'src="/pictures/{kept[1].pk}/small.jpg"' in text_of(bench.get("/pieces/"))
    assert "Leaf" in bench.get("/pieces/?export=csv").content.decode()


def test_a_short_address_leads_to_its_thing(bench: Client, lot: Lot) -> None:
    cast = w.cast_metal([(lot, 50)], [w.piece("Leaf", 30)], back="19.9")
    piece = cast.pieces.get()
    Cast.objects.filter(pk=cast.pk).update(number=4107)
    cast.refresh_from_db()
    for short, way in (
        (f"l{lot.pk}", f"/stock/lots/{lot.pk}/"),
        (f"P{piece.pk}", f"/pieces/{piece.pk}/"),
        (f"c{cast.number}", f"/casts/{cast.number}/"),
    ):
        assert bench.get(f"/t/{short}/")["Location"] == way
    for wrong in ("x1", "l999999", "l"):
        assert bench.get(f"/t/{wrong}/").status_code == 404
    bench.logout()
    assert bench.get(f"/t/l{lot.pk}/")["Location"] == f"/sign-in/?next=/t/l{lot.pk}/"


def test_the_audit_finds_a_picture_that_is_gone_or_changed(lot: Lot) -> None:
    gone, changed = keep_picture(lot=lot), keep_picture(lot=lot)
    assert problems() == []
    photo_file(gone.name).unlink()
    photo_file(changed.name, "small").write_bytes(b"another")
    assert problems() == [
        f"picture {gone.pk} has lost its file {gone.name}",
        f"picture {changed.pk} is not what was taken in: its file {changed.name} was changed",
    ]


def request_of(path: str, length: int) -> bytes:
    return f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Length: {length}\r\n\r\n".encode()


def test_only_pages_that_take_files_take_much_and_from_a_few_at_once(door: Door) -> None:  # noqa: F811 - the fixture
    for path, length in (
        ("/stock/opening/", 3_000_000),
        ("/pictures/lot/1/", 60_000_000),
        ("/kiln-logs/1/", 6_000_000),
    ):
        assert b"413" in door.hears(door.visit(request_of(path, length)))
    small = 2_000_001
    visitor = door.visit(request_of("/pictures/lot/1/", small))
    visitor.sendall(b"x" * small)
    assert door.hears(visitor).endswith(b"in")
    waiting = door.visit(request_of("/kiln-logs/1/", 5_200_000))
    logs = [one for one in FairParser.with_files if one.path == "/kiln-logs/1/"]
    assert {one.adj.max_request_body_size for one in logs} == {5_500_000}
    waiting.close()
    door.turn()
    for _ in range(6):
        door.visit(request_of("/pictures/lot/1/", 40_000_000))
    assert b"413" in door.hears(door.visit(request_of("/pictures/lot/1/", 40_000_000)))
