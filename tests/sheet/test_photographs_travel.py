"""Photographs leave the studio without the place they were taken, and come back as they left."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from kb.desk.backup.backup import back_up
from kb.desk.backup.check import check_backup, restore
from kb.desk.keep import verify
from kb.desk.package.bring_in import bring_in
from kb.desk.package.write import export
from kb.desk.records.photographs import NAMED
from kb.desk.sharing.share import join, share
from kb.desk.sheet.pictures_taken import add, taken
from kb.desk.studio import Studio
from kb.index.open import silent
from tests.share_help import Bench, bench, hub

__all__ = ["bench", "hub"]
GPS = 0x8825
MANY = 200
PLACED = 7
"""Every how manyth photograph says where it was taken."""
MakeStudio = Callable[[str], Studio]


def photographs(studio: Studio, folder: Path, count: int) -> None:
    """Tiny photographs taken in; some say where they were taken."""
    folder.mkdir(exist_ok=True)
    for number in range(count):
        path = folder / f"{number}.jpg"
        exif = Image.Exif()
        if number % PLACED == 0:
            exif.get_ifd(GPS).update({1: "N", 2: (48.0, 10.0, float(number % 60))})
        pixels = np.random.default_rng(number).integers(0, 255, (8, 8, 3), np.uint8)
        Image.fromarray(pixels).save(path, "JPEG", exif=exif)
        words = {"sheet": "Leaf", "new_sheet": True, "tags": ["before"], "area": f"place {number}"}
        add(studio, path, words)


def left_in(folder: Path) -> dict[str, bytes]:
    """The photographs in a folder, by name."""
    return {path.name: path.read_bytes() for path in (folder / "photographs").iterdir()}


def without_a_place(files: dict[str, bytes], folder: Path) -> bool:
    """Whether no photograph says where it was taken, by a reader of its own, and each bears its hash."""
    for name, raw in files.items():
        found = NAMED.fullmatch(name)
        assert found
        assert hashlib.sha256(raw).hexdigest() == (found[2] or found[1])
        if Image.open(folder / "photographs" / name).getexif().get_ifd(GPS):
            return False
    return True


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A studio of 200 photographs, made once."""
    root = tmp_path_factory.mktemp("many")
    studio = Studio(root / "studio")
    photographs(studio, root / "card", MANY)
    studio.close()
    return root / "studio"


@pytest.fixture
def studio_of_many(many: Path, tmp_path: Path) -> Studio:
    """A copy of it."""
    shutil.copytree(many, tmp_path / "studio")
    return Studio(tmp_path / "studio")


@pytest.mark.slow
def test_exported_and_brought_in_they_are_what_left(
    studio_of_many: Studio, new_studio: MakeStudio, tmp_path: Path
) -> None:
    """200 of them: none says where it was taken, the rest byte for byte; out again they are the same."""
    own = left_in(studio_of_many.root)
    export(studio_of_many, tmp_path / "package")
    packed = left_in(tmp_path / "package")
    assert len(packed) == len(own) == MANY
    assert without_a_place(packed, tmp_path / "package")
    same = {name: raw for name, raw in packed.items() if "-" not in name}
    assert len(same) == MANY - len(range(0, MANY, PLACED))
    assert all(own[name] == raw for name, raw in same.items())
    other = new_studio("other")
    done = bring_in(other, tmp_path / "package")
    assert done.photographs == MANY
    assert left_in(other.root) == packed
    assert verify(other) == []
    assert len([one for one in taken(other) if one.file]) == MANY
    export(other, tmp_path / "again")
    assert left_in(tmp_path / "again") == packed
    assert bring_in(studio_of_many, tmp_path / "again").photographs == 0
    assert left_in(studio_of_many.root) == own


@pytest.mark.slow
def test_a_backup_keeps_every_byte(studio_of_many: Studio, tmp_path: Path) -> None:
    """It does not leave the studio's hands: the place stays in, as in the original."""
    own = left_in(studio_of_many.root)
    made = Path(back_up(studio_of_many.root, tmp_path / "backup").folder)
    assert check_backup(made).problems == ()
    restore(made, tmp_path / "restored", silent)
    assert left_in(tmp_path / "restored") == own
    assert verify(Studio(tmp_path / "restored")) == []


def told_to_share(studio: Studio) -> Studio:
    """The same with the setting that lets photographs travel."""
    text = studio.settings_file.read_text() if studio.settings_file.exists() else ""
    studio.settings_file.write_text(f"{text}\nshare_photographs: true\n")
    studio.mark_stale()
    return studio


@pytest.mark.slow
def test_shared_where_the_settings_say_so(bench: Bench, hub: Path, tmp_path: Path) -> None:
    """200 of them travel without a place; a bench that does not want them takes none and deletes none."""
    first, second, third = (bench(name) for name in ("north", "south", "west"))
    told_to_share(first)
    told_to_share(third)
    photographs(first, tmp_path / "card", MANY)
    # The card is in another machine by now.
    shutil.rmtree(tmp_path / "card")
    for studio in (first, second):
        join(studio, str(hub))
    assert not (second.root / "photographs").exists()
    assert {one.kind for one in verify(second)} == {"photograph-missing"}
    share(second)
    done = join(third, str(hub))
    assert done.photographs_received == MANY
    assert done.files_received == ()
    got = left_in(third.root)
    assert len(got) == MANY
    assert without_a_place(got, third.root)
    assert verify(third) == []
    # What is lost on one bench comes back, and is not taken from the others.
    lost = sorted(got)[:3]
    for name in lost:
        (third.root / "photographs" / name).unlink()
    share(third)
    assert left_in(third.root) == got
    share(first)
    assert set(got) <= set(left_in(first.root))
    assert share(second).told == ()
    assert not (second.root / "photographs").exists()


@pytest.mark.slow
def test_a_photograph_that_is_not_what_its_name_says_is_not_taken(bench: Bench, hub: Path) -> None:
    """Whoever shares another picture under a known name is found out, and the rest comes in."""
    first, second = (told_to_share(bench(name)) for name in ("north", "south"))
    join(first, str(hub))
    join(second, str(hub))
    name = f"photographs/{'0' * 64}.jpg"
    target = first.root / name
    target.parent.mkdir(exist_ok=True)
    target.write_bytes(b"something else")
    share(first)
    assert share(second).photographs_received == 0
    assert not (second.root / name).exists()
