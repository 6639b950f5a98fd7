"""Photographs are taken into the studio by copy under their hash, and what is lost is named."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from kb.book.kinds.parts import Photo
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import verify
from kb.desk.records.photographs import FOLDER, lost, stored, take_in
from kb.desk.records.record import photo
from kb.desk.studio import Studio

PICTURE = b"\xff\xd8 a picture \xff\xd9"
NAME = hashlib.sha256(PICTURE).hexdigest()


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    """A photograph on a card that will be gone tomorrow."""
    path = tmp_path / "card" / "IMG 1.JPG"
    path.parent.mkdir()
    path.write_bytes(PICTURE)
    return path


def mended(studio: Studio, picture: Path) -> int:
    """A mend with a photograph, by command."""
    words = ["mend", "add", "A sheet", "--new-sheet", "--tear", "plain", "--length", "30 mm"]
    return main(["--studio", str(studio.root), *words, "--photo", str(picture)])


def test_a_mend_keeps_its_photograph_when_the_card_is_gone(studio: Studio, camera: Path) -> None:
    """The copy bears the hash as its name; the original is left as it was; verify is content."""
    assert mended(studio, camera) == 0
    assert camera.read_bytes() == PICTURE
    assert [one.name for one in (studio.root / FOLDER).iterdir()] == [f"{NAME}.jpg"]
    camera.unlink()
    assert stored(studio.root, NAME) == studio.root / FOLDER / f"{NAME}.jpg"
    assert verify(studio) == []


def test_the_same_photograph_is_copied_once(studio: Studio, camera: Path) -> None:
    """A second record with it adds no file."""
    assert mended(studio, camera) == mended(studio, camera) == 0
    assert len(list((studio.root / FOLDER).iterdir())) == 1


def test_verify_names_what_is_missing_and_what_changed(studio: Studio, camera: Path) -> None:
    """A changed copy is told from one that is gone; either leaves the book whole."""
    assert mended(studio, camera) == 0
    own = studio.root / FOLDER / f"{NAME}.jpg"
    camera.unlink()
    own.write_bytes(b"something else")
    assert [one.kind for one in verify(studio)] == ["photograph-changed"]
    own.unlink()
    (found,) = verify(studio)
    assert (found.kind, found.severity, found.file) == ("photograph-missing", "warning", str(camera))
    assert main(["--studio", str(studio.root), "verify"]) == 0


def test_a_photograph_that_changes_meanwhile_is_not_taken(studio: Studio, camera: Path) -> None:
    """Nothing of it is left in the studio."""
    studio.make()
    named = photo(camera, "after")
    camera.write_bytes(b"overwritten")
    with pytest.raises(DeskError, match="is changing just now"):
        take_in(studio.root, [named])
    assert list((studio.root / FOLDER).iterdir()) == []


def test_a_full_disk_records_nothing(studio: Studio, camera: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sentence names the photograph and says what to do; neither a part nor a record is left."""
    assert mended(studio, camera) == 0
    before = {path.name: path.read_bytes() for path in studio.book_dir.iterdir()}
    other = camera.with_name("other.jpg")
    other.write_bytes(b"another")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("kb.desk.records.photographs.os.fsync", full)
    with pytest.raises(DeskError, match="No space left on device"):
        take_in(studio.root, [photo(other, "after")])
    assert mended(studio, other) == 3
    assert [one.name for one in (studio.root / FOLDER).iterdir()] == [f"{NAME}.jpg"]
    assert {path.name: path.read_bytes() for path in studio.book_dir.iterdir()} == before


def test_what_lies_elsewhere_or_in_the_studio_is_left(studio: Studio) -> None:
    """A record may name what another bench holds, or a file of the studio itself."""
    studio.make()
    inside = studio.root / "photos" / "a.jpg"
    inside.parent.mkdir()
    inside.write_bytes(PICTURE)
    take_in(studio.root, [Photo(path="/no/such.jpg", sha256="0" * 64, when="after"), photo(inside, "after")])
    assert not (studio.root / FOLDER).exists()


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no device that never ends")
def test_a_device_that_another_bench_names_is_no_photograph(studio: Studio) -> None:
    """It would be read for ever; it counts as missing, and is not copied."""
    named = Photo(path="/dev/zero", sha256=NAME)
    assert [one.changed for one in lost(studio.root, [(named.path, named.sha256)])] == [False]
    take_in(studio.root, [named])
    assert not list((studio.root / FOLDER).glob("*"))
