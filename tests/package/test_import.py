"""A package comes back as it went out, adds without losing or overwriting, and no trick gets in."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.book.append import append
from kb.book.fold import fold
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.package import bring_in as package_in
from kb.desk.package import opened as package_in_open
from kb.desk.package.bring_in import bring_in
from kb.desk.package.write import export
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import STARTER, Studio
from tests.conftest import spot
from tests.package_help import every_kind, put, spot_body
from tests.whole_book import all_lines

MakeStudio = Callable[[str], Studio]
LIQUID = """\
liquids:
  - id: bench-water
    name: {name}
    family: water
    from: [x]
"""


def tree(root: Path) -> dict[str, bytes]:
    """The files of a studio besides its index and how far this bench saw the book."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and not path.name.startswith("index.db") and path.parent.name != "seen"
    }


def blank(studio: Studio) -> bool:
    """Whether nothing came into a studio that was empty."""
    return tree(studio.root) == {}


def errors(root: Path) -> list[str]:
    """What is wrong with the book, notes left out."""
    return [one.sentence for one in verify(root / "book") if one.severity == "error"]


def rewritten(folder: Path, **changes: Any) -> None:
    """Change the first resource, or the top, of a descriptor."""
    path = folder / "datapackage.json"
    head = json.loads(path.read_bytes())
    for name, value in changes.items():
        (head if name in head else head["resources"][-1])[name] = value
    path.write_text(json.dumps(head))


@pytest.fixture(scope="module")
def made(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the studio ``full``, its package ``out`` and ``out.zip``; made once, for it takes time.

    The studio has two benches, an entry, settings, shelf, pooled counts and a photograph that is gone since.
    """
    place = tmp_path_factory.mktemp("made")
    root = place / "full"
    (root / "catalogue" / "own").mkdir(parents=True)
    shutil.copy(blank_index, root / "index.db")
    picture = place / "one.jpg"
    picture.write_bytes(b"picture")
    every_kind(root)
    photo = {"path": str(picture), "sha256": hashlib.sha256(b"picture").hexdigest()}
    put(root, "bench-b", [("test", spot_body(photos=[photo]))], start=50)
    (root / "catalogue" / "own" / "water.yaml").write_text(LIQUID.format(name="Bench water"))
    (root / "studio.yaml").write_text("name: Full house\nbench: bench-a\n")
    (root / "shelf.yaml").write_text("holds: [acetone]\n")
    (root / "pool").mkdir()
    (root / "pool" / "weights.yaml").write_text("{}\n")
    studio = Studio(root)
    export(studio, place / "out")
    export(studio, place / "out.zip", zipped=True)
    studio.close()
    picture.unlink()
    return place


@pytest.fixture
def full(made: Path, tmp_path: Path) -> Studio:
    """A copy of the full studio."""
    shutil.copytree(made / "full", tmp_path / "full")
    return Studio(tmp_path / "full")


@pytest.fixture
def packed(made: Path, tmp_path: Path) -> Path:
    """A copy of its package as a folder; the zip file lies beside it."""
    shutil.copytree(made / "out", tmp_path / "out")
    shutil.copy(made / "out.zip", tmp_path / "out.zip")
    return tmp_path / "out"


def test_what_was_looked_at_comes_back_with_a_package(new_studio: MakeStudio, tmp_path: Path) -> None:
    """The book says which kinds were graded: what the index makes of that is the same in another studio."""
    work, other = new_studio("work"), new_studio("other")
    for harm in ({"gloss": 0}, {"tideline": 1}, {"gloss": 0, "bleed": 1}, {"tideline": 3}, {}):
        add_test(work, spot(release=None, harm=harm))
    export(work, tmp_path / "package")
    bring_in(other, tmp_path / "package")
    found = []
    for studio in (work, other):
        studio.refresh()
        looked = "SELECT id, harm, harms FROM test ORDER BY id"
        cells = "SELECT medium, g0, g1, g2, g3, g4 FROM harm_cell ORDER BY medium"
        found.append([studio.index.conn.execute(sql).fetchall() for sql in (looked, cells)])
    assert found[0] == found[1]
    assert [row[1:] for row in found[0][0]] == [
        (0, "gloss=0"), (1, "tideline=1"), (1, "bleed=1;gloss=0"), (3, "tideline=3"), (None, ""),
    ]  # fmt: skip
    assert found[0][1] == [("bare-paper", 2, 1, 0, 1, 0), ("letterpress-oil", 0, 1, 0, 0, 0)]


@pytest.mark.parametrize("zipped", [False, True])
def test_an_empty_studio_becomes_the_same_studio(
    zipped: bool, full: Studio, packed: Path, new_studio: MakeStudio, tmp_path: Path
) -> None:
    """Book, entries and settings to the byte, answers as the same JSON, and the same package again."""
    empty = new_studio("empty")
    done = bring_in(empty, tmp_path / "out.zip" if zipped else packed)
    assert done.done
    assert (done.records, done.photographs, done.kept, done.ignored) == (14, 1, (), ())
    came = tree(empty.root)
    assert {name: data for name, data in came.items() if not name.startswith("photographs/")} == tree(
        full.root
    )
    assert [data for name, data in came.items() if name.startswith("photographs/")] == [b"picture"]
    assert msgspec.json.encode(list_tests(empty, limit=0)) == msgspec.json.encode(list_tests(full, limit=0))
    assert stat.S_IMODE((empty.root / "book" / "bench-a.jsonl").stat().st_mode) == 0o600
    export(empty, tmp_path / "again.zip", zipped=True)
    assert (tmp_path / "again.zip").read_bytes() == (tmp_path / "out.zip").read_bytes()


def test_the_command_answers_the_same_after_the_way_round(
    full: Studio, packed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "new" / "studio"
    assert main(["--studio", str(there), "import", str(packed), "--dry-run"]) == 0
    assert not there.parent.exists()
    assert "Nothing was changed. 14 records would come in." in capsys.readouterr().out
    assert main(["--studio", str(there), "import", str(packed), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["done"], told["records"]) == (True, 14)
    assert "bench-a" in told["mind"][0]
    full.close()
    answers = []
    for root in (full.root, there):
        for command in (["test", "list"], ["shelf", "--all"], ["batch", "list"], ["wash", "list"]):
            main(["--studio", str(root), *command, "--json"])
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]
    assert answers[0].count("{") > 4
    assert sorted(path.name for path in there.parent.iterdir()) == ["studio"]


def test_bringing_it_in_twice_changes_nothing(packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    bring_in(studio, packed)
    before = tree(studio.root)
    again = bring_in(studio, packed)
    assert again.records == 0
    assert {one.action for one in again.book} == {"same"}
    assert tree(studio.root) == before


def test_other_benches_are_added_beside_ours(packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    ours = put(studio.root, "bench-c", [("test", spot_body())], start=500)
    done = bring_in(studio, packed)
    assert {one.action for one in done.book} == {"new"}
    assert {line.id for line in all_lines(studio.root / "book")} > set(ours)
    assert len(all_lines(studio.root / "book")) == 15
    assert errors(studio.root) == []


def test_of_one_bench_at_two_times_the_longer_wins(
    full: Studio, packed: Path, new_studio: MakeStudio
) -> None:
    book = (full.root / "book" / "bench-a.jsonl").read_bytes()
    for cut in (3, 300):  # behind a line, and in the midst of one
        lines = book.split(b"\n")
        studio = new_studio(f"behind-{cut}")
        (studio.root / "book").mkdir()
        ours = b"\n".join(lines[:3]) + b"\n" if cut == 3 else book[:cut]
        (studio.root / "book" / "bench-a.jsonl").write_bytes(ours)
        done = bring_in(studio, packed)
        assert {one.file: one.action for one in done.book}["bench-a.jsonl"] == "longer there"
        assert done.records == (14 - 3 if cut == 3 else 14)
        assert (studio.root / "book" / "bench-a.jsonl").read_bytes() == book
    ahead = new_studio("ahead")
    bring_in(ahead, packed)
    append(ahead.root / "book", bench="bench-a", who="x", kind="test", body=spot_body())
    longer = tree(ahead.root)
    assert bring_in(ahead, packed).records == 0
    assert tree(ahead.root) == longer


def test_benches_that_parted_lose_no_record_and_no_id(
    full: Studio, packed: Path, new_studio: MakeStudio, tmp_path: Path
) -> None:
    """Both wrote on from the same beginning; each takes in the other's, twice, and both hold the same."""
    there = new_studio("there")
    bring_in(there, packed)
    theirs = put(there.root, "bench-a", [("test", spot_body(remarks="=there")) for _ in range(3)], start=900)
    ours = put(full.root, "bench-a", [("test", spot_body(remarks="here"))], start=901)
    full.refresh()
    export(there, tmp_path / "there-1")
    done = bring_in(full, tmp_path / "there-1")
    parted = next(one for one in done.book if one.action == "parted")
    assert (parted.records, parted.into) == (3, "bench-a-imported.jsonl")
    assert errors(full.root) == []
    lines = {line.id: line for line in all_lines(full.root / "book")}
    assert set(theirs) | set(ours) < set(lines)
    original = {line.id: line for line in all_lines(there.root / "book")}
    for one in theirs:
        assert lines[one] == msgspec.structs.replace(original[one], prev=lines[one].prev)
    put(there.root, "bench-a", [("withdraw", {"of": theirs[0], "why": "w"})], start=950)
    export(there, tmp_path / "there-2")
    assert bring_in(full, tmp_path / "there-2").records == 1
    assert bring_in(full, tmp_path / "there-2").records == 0
    export(full, tmp_path / "here")
    bring_in(there, tmp_path / "here")
    assert errors(full.root) == errors(there.root) == []
    one, other = (fold(all_lines(studio.root / "book")) for studio in (full, there))
    assert {key: (now.body, now.withdrawn) for key, now in one.tests.items()} == {
        key: (now.body, now.withdrawn) for key, now in other.tests.items()
    }
    assert one.troubles == other.troubles
    assert theirs[0] in one.withdrawn


def test_one_id_with_two_contents_is_refused(full: Studio, packed: Path, new_studio: MakeStudio) -> None:
    """Somebody altered a record and mended the chain behind it: neither copy is believed."""
    studio = new_studio("studio")
    lines = all_lines(full.root / "book")
    from kb.book.line import FIRST_PREV, encode_line

    changed = msgspec.structs.replace(lines[0], who="somebody else", prev=FIRST_PREV)
    (studio.root / "book").mkdir()
    (studio.root / "book" / "bench-z.jsonl").write_bytes(encode_line(changed) + b"\n")
    before = tree(studio.root)
    with pytest.raises(DeskError, match="says something else than the one here"):
        bring_in(studio, packed)
    assert tree(studio.root) == before


def test_a_broken_chain_is_refused_and_taken_only_if_asked(
    full: Studio, new_studio: MakeStudio, tmp_path: Path
) -> None:
    path = full.root / "book" / "bench-a.jsonl"
    path.write_bytes(path.read_bytes().replace(b"not ours", b"not 0urs").replace(b"wrong", b"wr0ng"))
    export(full, tmp_path / "out")
    studio = new_studio("studio")
    with pytest.raises(DeskError, match=r"is not whole: Line 11 of bench-a\.jsonl was changed"):
        bring_in(studio, tmp_path / "out")
    assert blank(studio)
    assert bring_in(studio, tmp_path / "out", damaged=True).mind
    assert (studio.root / "book" / "bench-a.jsonl").read_bytes() == path.read_bytes()


def test_entries_and_settings_that_differ_are_listed_and_stay(packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    own = studio.root / "catalogue" / "own" / "water.yaml"
    own.parent.mkdir(parents=True)
    own.write_text(LIQUID.format(name="Our water"))
    (studio.root / "studio.yaml").write_text("name: Ours\n")
    (studio.root / "shelf.yaml").write_text("holds: [water]\n")
    done = bring_in(studio, packed)
    assert {one.file: (one.action, one.entries) for one in done.kept} == {
        "catalogue/own/water.yaml": ("kept ours", ("liquids/bench-water",)),
        "studio.yaml": ("kept ours", ()),
        "shelf.yaml": ("kept ours", ()),
    }
    assert own.read_text() == LIQUID.format(name="Our water")
    done = bring_in(studio, packed, catalogue="theirs", settings="theirs")
    assert done.kept == ()
    assert own.read_text() == LIQUID.format(name="Bench water")
    assert own.with_name("water.yaml.kept").read_text() == LIQUID.format(name="Our water")
    assert (studio.root / "studio.yaml.kept").read_text() == "name: Ours\n"


def test_an_entry_that_stands_in_another_file_is_never_doubled(packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    (studio.root / "catalogue").mkdir()
    (studio.root / "catalogue" / "mine.yaml").write_text(LIQUID.format(name="Our water"))
    (kept,) = bring_in(studio, packed, catalogue="theirs").kept
    assert "catalogue/mine.yaml" in kept.text
    assert not (studio.root / "catalogue" / "own").exists()


def test_the_id_of_another_studio_and_our_own_counts_stay_out(
    full: Studio, new_studio: MakeStudio, tmp_path: Path
) -> None:
    """Or two studios would bear one id, and our tests would come back to us as those of others."""
    theirs, ours = "a" * 32, "b" * 32
    (full.root / "pool" / "this-studio.json").write_text(json.dumps({"studio": theirs}))
    (full.root / "pool" / f"{ours}.json").write_text("{}")
    export(full, tmp_path / "out")
    studio = new_studio("studio")
    put(studio.root, "bench-c", [("test", spot_body())], start=500)
    (studio.root / "pool").mkdir()
    (studio.root / "pool" / "this-studio.json").write_text(json.dumps({"studio": ours}))
    (studio.root / "pool" / f"{theirs}.json").write_text("{}")
    done = bring_in(studio, tmp_path / "out", settings="theirs")
    assert {one.file for one in done.kept} == {"pool/this-studio.json", f"pool/{ours}.json"}
    assert [text for text in done.mind if f"benchleaf pool drop {theirs}" in text]
    assert json.loads((studio.root / "pool" / "this-studio.json").read_bytes()) == {"studio": ours}
    assert not (studio.root / "pool" / f"{ours}.json").exists()
    (studio.root / "pool" / "this-studio.json").unlink()
    assert bring_in(studio, tmp_path / "out").kept[-1].file == "pool/this-studio.json"
    assert not (studio.root / "pool" / "this-studio.json").exists()
    fresh = new_studio("fresh")
    assert bring_in(fresh, tmp_path / "out").kept == ()
    assert json.loads((fresh.root / "pool" / "this-studio.json").read_bytes()) == {"studio": theirs}


def test_what_sharing_put_aside_goes_out_and_comes_back(
    full: Studio, new_studio: MakeStudio, tmp_path: Path
) -> None:
    for path in ("set-aside/bench-a.jsonl", "to-settle/catalogue/own/water.yaml"):
        (full.root / path).parent.mkdir(parents=True)
        (full.root / path).write_text("{}\n")
    (full.root / "working").mkdir(exist_ok=True)
    (full.root / "notes.txt").write_text("mine")
    made = export(full, tmp_path / "out")
    assert [one.what for one in made.left_out if "photograph" not in one.what] == ["notes.txt"]
    studio = new_studio("studio")
    bring_in(studio, tmp_path / "out")
    assert tree(studio.root).keys() == tree(full.root).keys() - {"notes.txt"}


def test_settings_that_were_never_filled_in_give_way(packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    (studio.root / "studio.yaml").write_text(STARTER)
    assert bring_in(studio, packed).kept == ()
    assert (studio.root / "studio.yaml").read_text() == "name: Full house\nbench: bench-a\n"


def test_invented_records_do_not_mix_with_real_ones(
    full: Studio, new_studio: MakeStudio, tmp_path: Path
) -> None:
    (full.root / "studio.yaml").write_text("name: Made up\ninvented: true\n")
    export(full, tmp_path / "out")
    studio = new_studio("studio")
    add_test(studio, spot())
    with pytest.raises(DeskError, match="of an invented studio"):
        bring_in(studio, tmp_path / "out")
    assert list((studio.root / "book").iterdir()) == [studio.root / "book" / "bench-a.jsonl"]


@pytest.mark.parametrize("name", ["book/bench-a.jsonl", "tables/harm.csv", "studio.yaml"])
def test_an_altered_file_is_noticed_before_anything_comes_in(
    name: str, packed: Path, new_studio: MakeStudio
) -> None:
    data = bytearray((packed / name).read_bytes())
    data[7] ^= 1
    (packed / name).write_bytes(data)
    studio = new_studio("studio")
    with pytest.raises(DeskError, match="not what its checksum says"):
        bring_in(studio, packed)
    (packed / name).write_bytes(data[:-1])
    with pytest.raises(DeskError, match="not what its checksum says"):
        bring_in(studio, packed)
    (packed / name).unlink()
    with pytest.raises(DeskError, match="cannot be used: No such file"):
        bring_in(studio, packed)
    assert blank(studio)


@pytest.mark.parametrize(
    "path",
    ["../x.jsonl", "/etc/x", "book/../../x.jsonl", "book\\x.jsonl", "C:x", "book//x", "book/\x00", "book/.x",
     "book/con.jsonl", "BOOK/bench-a.jsonl", "", "book/a\x1b[2J.jsonl", "book/" + "n" * 300, 7, None],
)  # fmt: skip
def test_names_that_lead_elsewhere_are_refused(path: object, packed: Path, new_studio: MakeStudio) -> None:
    studio = new_studio("studio")
    rewritten(packed, path=path)
    with pytest.raises(DeskError, match="no package may hold") as told:
        bring_in(studio, packed)
    assert "\x1b" not in str(told.value)
    assert blank(studio)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"hash": "md5:00"}, "no size and SHA-256"),
        ({"bytes": -1}, "no size and SHA-256"),
        ({"resources": "all"}, "does not list its files"),
        ({"benchleaf": {"format": 99}}, "newer version"),
        ({"benchleaf": 1}, "no package that was written"),
    ],
)
def test_a_descriptor_that_says_less_is_refused(
    changes: dict[str, Any], said: str, packed: Path, new_studio: MakeStudio
) -> None:
    studio = new_studio("studio")
    rewritten(packed, **changes)
    with pytest.raises(DeskError, match=said):
        bring_in(studio, packed)
    (packed / "datapackage.json").write_bytes(b"[" * 100_000)
    with pytest.raises(DeskError, match="cannot be read"):
        bring_in(studio, packed)
    assert blank(studio)


def test_links_in_a_package_folder_are_not_followed(
    packed: Path, new_studio: MakeStudio, tmp_path: Path
) -> None:
    studio = new_studio("studio")
    shutil.move(packed / "book", tmp_path / "elsewhere")
    (packed / "book").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(DeskError, match="a link, which is not followed"):
        bring_in(studio, packed)
    (packed / "book").unlink()
    (packed / "book").mkdir()
    (packed / "book" / "bench-a.jsonl").symlink_to(tmp_path / "elsewhere" / "bench-a.jsonl")
    with pytest.raises(DeskError, match="a link, which is not followed"):
        bring_in(studio, packed)
    (packed / "book" / "bench-a.jsonl").unlink()
    os.mkfifo(packed / "book" / "bench-a.jsonl")
    with pytest.raises(DeskError, match="not a plain file"):
        bring_in(studio, packed)
    assert blank(studio)


def test_tricks_in_a_zip_file_are_refused(packed: Path, new_studio: MakeStudio, tmp_path: Path) -> None:
    """Names that climb, absolute and doubled names, links: refused before anything is unpacked."""
    studio = new_studio("studio")
    whole = (tmp_path / "out.zip").read_bytes()
    link = zipfile.ZipInfo("book/link.jsonl")
    link.create_system, link.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    extras: list[tuple[Any, str]] = [
        ("../../evil.jsonl", "leads elsewhere"),
        ("/evil.jsonl", "leads elsewhere"),
        ("book\\..\\evil", "leads elsewhere"),
        ("STUDIO.yaml", "comes twice"),
        (link, "link or device"),
    ]
    for member, said in extras:
        (tmp_path / "trick.zip").write_bytes(whole)
        with zipfile.ZipFile(tmp_path / "trick.zip", "a") as archive:
            archive.writestr(member, b"/etc/passwd")
        with pytest.raises(DeskError, match=said):
            bring_in(studio, tmp_path / "trick.zip")
    assert blank(studio)
    assert not (tmp_path / "evil.jsonl").exists()


def test_a_zip_file_of_enormous_content_is_refused_unread(
    packed: Path, new_studio: MakeStudio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio = new_studio("studio")
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("datapackage.json", b"{}")
        archive.writestr("book/x.jsonl", bytes(3 << 20))
    monkeypatch.setattr(package_in_open, "BOMB_BYTES", 1 << 20)
    with pytest.raises(DeskError, match="would unpack to 3,145,730 bytes"):
        bring_in(studio, tmp_path / "bomb.zip")
    assert blank(studio)


def test_a_zip_file_of_a_folder_with_hidden_files_is_taken(
    packed: Path, new_studio: MakeStudio, tmp_path: Path
) -> None:
    """As file managers make them: all in one folder, with files of their own between."""
    (packed / ".hidden").write_text("x")
    (packed / "book" / "stranger.jsonl").write_text("not named in the descriptor")
    shutil.make_archive(str(tmp_path / "made"), "zip", tmp_path, "out")
    studio = new_studio("studio")
    done = bring_in(studio, tmp_path / "made.zip")
    assert (done.records, done.ignored) == (14, (".hidden", "book/stranger.jsonl"))
    assert not (studio.root / "book" / "stranger.jsonl").exists()


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut", b"no package"])
def test_what_is_no_package_gives_a_sentence(content: bytes, new_studio: MakeStudio, tmp_path: Path) -> None:
    studio = new_studio("studio")
    (tmp_path / "x.zip").write_bytes(content)
    for path in (tmp_path / "x.zip", tmp_path / "nowhere", studio.root, Path("\x00")):
        with pytest.raises(DeskError, match="Nothing was brought in"):
            bring_in(studio, path)
    assert blank(studio)


def test_every_cut_of_a_zip_file_gives_a_sentence(
    packed: Path, new_studio: MakeStudio, tmp_path: Path
) -> None:
    studio = new_studio("studio")
    whole = (tmp_path / "out.zip").read_bytes()
    for place in range(10, len(whole), len(whole) // 25):
        (tmp_path / "cut.zip").write_bytes(whole[:place])
        with pytest.raises(DeskError):
            bring_in(studio, tmp_path / "cut.zip")
        flipped = bytearray(whole)
        flipped[place] ^= 0x40
        (tmp_path / "flipped.zip").write_bytes(flipped)
        with suppress(DeskError):
            assert bring_in(studio, tmp_path / "flipped.zip", dry_run=True).records == 14
    assert blank(studio)


def test_want_of_room_is_said_before_anything_comes_in(
    packed: Path, new_studio: MakeStudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio = new_studio("studio")
    monkeypatch.setattr(package_in.shutil, "disk_usage", lambda _: _Usage)
    with pytest.raises(DeskError, match="make room first"):
        bring_in(studio, packed)
    assert blank(studio)


class _Usage:
    free = 1000


def test_stopped_half_way_it_goes_on_when_done_again(
    packed: Path, full: Studio, new_studio: MakeStudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio = new_studio("studio")
    really = package_in.apply_book

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(package_in, "apply_book", refuse)
    with pytest.raises(DeskError, match="bring it in again"):
        bring_in(studio, packed)
    monkeypatch.setattr(package_in, "apply_book", really)
    assert bring_in(studio, packed).records == 14
    assert tree(studio.root).items() >= tree(full.root).items()
    assert [path.name for path in studio.root.parent.iterdir() if path.suffix == ".part"] == []


def test_half_a_file_never_stays_where_names_cannot_be_given_twice(
    packed: Path, full: Studio, new_studio: MakeStudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick without hard links that is full: what came in is whole, and doing it again goes on."""
    studio = new_studio("studio")
    really = shutil.copyfileobj

    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    def full_disk(source: Any, out: Any, *_: object) -> None:
        if not source.name.endswith("shelf.yaml"):
            return really(source, out)
        out.write(source.read(10))
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(shutil, "copyfileobj", full_disk)
    with pytest.raises(DeskError, match="No space left"):
        bring_in(studio, packed)
    monkeypatch.setattr(shutil, "copyfileobj", really)
    assert bring_in(studio, packed).records == 14
    assert tree(studio.root).items() >= tree(full.root).items()
    assert not [name for name in tree(studio.root) if name.endswith(".part")]


def test_command_exits_1_where_something_differs(
    packed: Path, new_studio: MakeStudio, capsys: pytest.CaptureFixture[str]
) -> None:
    studio = new_studio("studio")
    (studio.root / "shelf.yaml").write_text("holds: [water]\n")
    assert main(["--studio", str(studio.root), "import", str(packed)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "shelf.yaml: it differs, and ours stays; --settings theirs replaces it" in said
    assert "Brought in and on disk: 14 records." in said
    assert main(["--studio", str(studio.root), "import", str(packed / "nothing")]) == 3
