"""The index is derived: whatever happens to it, it comes back the same."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import kb.catalogue.load
import kb.index.catalogue_rows
import kb.index.compile
import kb.index.open
from kb.book.kinds.spot_test import SpotTest
from kb.catalogue.paths import shipped_data
from kb.desk.errors import DeskError
from kb.desk.keep import rebuild
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import add_test, list_tests, show_test, write
from kb.desk.studio import Studio
from kb.index.book_lines import roots_of
from kb.index.identify_table import Table
from kb.index.open import Origins, open_index
from kb.index.search import find
from kb.index.vectors import fields, pack, packed, unpack
from kb.model.record import Amend, Withdraw
from kb.model.studio import Settings, Shelf
from kb.science.choose.pooling import FIELDS
from tests.conftest import ANEW, SEARCHED, TEXTS, WORKED_OUT, _folder, _load, spot

TABLES = (
    "test",
    "change",
    "release_cell",
    "harm_cell",
    "part_cell",
    "patch_evidence",
    "patch_cell",
    "harm_patch_cell",
    "release_sum",
    "harm_sum",
    "liquid_mask",
    "entry",
    "kept",
    "name",
)


def content(conn: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    """Every derived row, in a fixed order. Blends that are no longer used may linger with no uses."""
    found = {table: sorted(conn.execute(f"SELECT * FROM {table}"), key=repr) for table in TABLES}
    found["blend"] = sorted(conn.execute("SELECT * FROM blend WHERE uses > 0"))
    place_of = {place: liquid for liquid, place in conn.execute("SELECT liquid, place FROM slot")}
    for table in ("release_sum", "harm_sum"):
        found[table] = [row for stored in found[table] for row in unpacked(stored, place_of)]
    found["liquid_mask"] = [row for row in found["liquid_mask"] if any(bytes(row[1]))]
    return found


def unpacked(stored: tuple[Any, ...], place_of: dict[int, str]) -> list[tuple[object, ...]]:
    """A stored sum as one row per liquid that it knows, whatever order the liquids were met in."""
    numbers = fields(unpack(stored[-1]), len(place_of))
    rows: list[tuple[object, ...]] = []
    for p, liquid in place_of.items():
        known = numbers[p * FIELDS : (p + 1) * FIELDS]
        if any(known):
            rows.append((*stored[:-1], liquid, *known))
    return sorted(rows, key=repr)


def random_spot(rng: random.Random, liquids: Sequence[str]) -> SpotTest:
    """A test of a pure liquid or of one blend."""
    parts = {"acetone": 0.5, "ethanol": 0.5} if rng.random() < 0.2 else {rng.choice(liquids): 1.0}
    return spot(
        parts=parts,
        release=rng.choice([None, 0, 1, 2, 3, 4]),
        harm={rng.choice(["bleed", "gloss", "colour"]): rng.randrange(5)} if rng.random() < 0.6 else {},
        stage=rng.choice(["oily", "induction", "crosslinked", ""]),
        adhesive=rng.choice(["natural-rubber-resin", "acrylic", "hot-melt-sbc"]),
        carrier=rng.choice(["cloth", "bopp", ""]),
        medium=rng.choice(["iron-gall", "letterpress-oil", ""]),
        control=rng.random() < 0.1,
        sheet=rng.choice(["", "Chart", "Ledger"]),
    )


def fill(studio: Studio, count: int, seed: int = 1) -> list[str]:
    """Random tests, some amended, some withdrawn; the index is refreshed along the way."""
    rng = random.Random(seed)
    ids: list[str] = []
    for number in range(count):
        ids.append(add_test(studio, random_spot(rng, LIQUIDS)).id)
        if number % 7 == 3:
            studio.refresh()
            target = rng.choice(ids)
            if rng.random() < 0.5:
                harm = {rng.choice(["bleed", "gloss"]): rng.randrange(3)}
                said = {"release": rng.randrange(5), "stage": "oily", "harm": harm}
                write(studio, "amend", Amend(of=target, set=said, why="read again"))
            else:
                write(studio, "withdraw", Withdraw(of=target, why="wrong bottle"))
    studio.refresh()
    return ids


LIQUIDS = ["n-heptane", "acetone", "ethanol", "water", "toluene"]


def test_deleted_index_comes_back_identical(studio: Studio) -> None:
    """Grown step by step or derived in one go, every row is the same."""
    fill(studio, 60)
    grown = content(studio.index.conn)
    assert rebuild(studio) == 60
    assert content(studio.index.conn) == grown


def test_what_is_worked_out_once_is_what_is_worked_out_anew() -> None:
    """What the tests keep of the shipped catalogue from index to index was not written in, and is right."""
    catalogue, _ = kb.catalogue.load.load([shipped_data()])
    for module, name in WORKED_OUT:
        kept, anew = getattr(module, name)(catalogue), ANEW[name](catalogue)
        assert kept is getattr(module, name)(catalogue)
        assert kept == (anew if isinstance(anew, Table) else list(anew)), name
    own = Settings(name="North Room"), Shelf()
    compiled = kb.index.compile.compile_catalogue(catalogue, *own)
    assert msgspec.msgpack.encode(compiled) == msgspec.msgpack.encode(
        ANEW["compile_catalogue"](catalogue, *own)
    )


def test_own_entries_beside_shipped_ones_that_are_kept_are_as_if_all_were_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Added, joined, in the place of one, faulty, with the name of another; those kept stay as they were."""
    own = tmp_path / "catalogue"
    own.mkdir()
    (own / "own.yaml").write_text(
        "papers:\n- {id: own-paper, name: Own paper}\n- {id: paper-rag, name: Rag of ours}\n"
        "- {id: odd, name: Odd, weight: heavy}\n- {id: twin, name: Own paper}\n"
        "liquids:\n- {id: acetone, name: Acetone, also: [own remover]}\n"
    )

    def found(folders: list[Path]) -> tuple[object, ...]:
        catalogue, problems = _load(folders)
        return catalogue.entries, catalogue.where, catalogue.origin, problems

    kept = [found([shipped_data(), own]), found([shipped_data()]), found([shipped_data(), own])]
    monkeypatch.setattr(kb.catalogue.load._Loading, "folder", _folder)
    assert kept[0] == kept[2] == found([shipped_data(), own])
    assert kept[1] == found([shipped_data()])
    assert len(kept[0][3]) > len(kept[1][3])  # type: ignore[arg-type]


@pytest.mark.parametrize("job", ["made fresh", "rebuilt"])
def test_what_is_put_into_a_new_index_is_what_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, job: str
) -> None:
    """All that can be searched is there to the byte, sound, and found; also by who put it there."""

    def made(name: str) -> sqlite3.Connection:
        studio = Studio(tmp_path / name)
        if job == "rebuilt":
            rebuild(studio)
        for table in SEARCHED:
            studio.index.conn.execute(f"INSERT INTO {table}({table}) VALUES ('integrity-check')")
        found.append([find(studio.index.conn, text) for text in ("acetne", "celofane tap", "packspec")])
        return studio.index.conn

    found: list[object] = []
    first, put = made("first"), made("put")
    monkeypatch.setattr(kb.index.catalogue_rows, "write_catalogue", ANEW["write_catalogue"])
    written = made("written")
    for table in (*TEXTS, "entry", "name", "mention"):
        rows = [one.execute(f"SELECT * FROM {table}").fetchall() for one in (first, put, written)]
        assert rows[0] == rows[1] == rows[2] != [], table
    assert found[0] == found[1] == found[2]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000))
def test_growing_equals_deriving(new_studio: Callable[[str], Studio], seed: int) -> None:
    """For any history of tests, amendments and withdrawals."""
    studio = new_studio(f"grow{seed}-{random.random()}")
    fill(studio, 25, seed)
    grown = content(studio.index.conn)
    rebuild(studio)
    assert content(studio.index.conn) == grown


@pytest.mark.parametrize("damage", ["empty", "rubbish", "cut", "older"])
def test_damaged_index_is_replaced(studio: Studio, damage: str) -> None:
    """A damaged index never shows: it is derived anew, and the answers are the same."""
    fill(studio, 12)
    before = content(studio.index.conn)
    path = studio.index_file
    assert path is not None
    studio.index.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    if damage == "older":
        studio.index.conn.execute("PRAGMA user_version=0")
    studio.close()
    if damage == "empty":
        path.write_bytes(b"")
    elif damage == "rubbish":
        path.write_bytes(b"not a database " * 1000)
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert content(Studio(studio.root).index.conn) == before


def test_altered_book_is_read_again_from_the_start(studio: Studio) -> None:
    """A line changed in place is noticed, named, and no longer counted; the rest is served."""
    fill(studio, 10)
    file = next(studio.book_dir.glob("*.jsonl"))
    lines = file.read_bytes().splitlines(keepends=True)
    lines[2] = b"{" + lines[2][1:].replace(b'"kind"', b'"kinds"')
    file.write_bytes(b"".join(lines))
    studio.refresh()
    assert any(":3:" in text for text in studio.unread())
    assert len(list_tests(studio, limit=0)) < 10
    # Whoever shows what is there must hear of it, though no file has anything new.
    file.unlink()
    assert studio.refresh()
    assert not studio.refresh()
    assert list_tests(studio, limit=0) == []


def test_unfinished_last_line_is_told_and_taken_when_finished(studio: Studio) -> None:
    """A line that another program is still writing is not lost and not counted twice."""
    fill(studio, 3)
    file = next(studio.book_dir.glob("*.jsonl"))
    whole = file.read_bytes()
    last = whole.splitlines(keepends=True)[-1]
    file.write_bytes(whole[: -len(last)] + last[:40])
    studio.refresh()
    partly = len(list_tests(studio, limit=0))
    assert studio.unread()
    with file.open("ab") as handle:
        handle.write(last[40:])
    studio.refresh()
    assert len(list_tests(studio, limit=0)) >= partly
    assert not studio.unread()


def test_records_of_others_leave_the_catalogue_in_memory_as_it_is(studio: Studio) -> None:
    """A question that takes in new lines reads no catalogue anew, unless another program put one there."""
    studio.make()
    other, held = Studio(studio.root), studio.compiled
    add_test(other, spot(sheet="Chart"))
    assert studio.refresh()
    assert studio.compiled is held
    studio.settings_file.write_text("who: QR\n")
    assert other.refresh()
    # The files are as the other program read them: only what it wrote can say so.
    studio.refresh()
    assert studio.settings.who == "QR"


def test_two_programs_see_each_other(studio: Studio) -> None:
    """What one program stored the other finds after a refresh, without reading the book anew."""
    other = Studio(studio.root)
    assert list_tests(other) == []
    written = add_test(studio, spot(release=3))
    assert other.refresh()
    assert [row.id for row in list_tests(other)] == [written.id]
    assert not other.refresh()


def test_change_of_a_test_that_arrives_later(studio: Studio) -> None:
    """An amendment read before its test, as sharing may bring it, is applied when the test comes."""
    written = add_test(studio, spot(release=0))
    studio.refresh()
    amend_record(studio, written.id, {"release": 4}, "read again")
    file = next(studio.book_dir.glob("*.jsonl"))
    test_line, amend_line = file.read_bytes().splitlines(keepends=True)
    later = Studio(studio.root.parent / "later")
    later.book_dir.mkdir(parents=True)
    (later.book_dir / "a.jsonl").write_bytes(amend_line)
    assert list_tests(later) == []
    (later.book_dir / "b.jsonl").write_bytes(test_line)
    later.refresh()
    assert [row.release for row in list_tests(later)] == [4]


def test_same_record_in_two_files_counts_once(studio: Studio) -> None:
    """Copied files do not double the evidence."""
    fill(studio, 5)
    file = next(studio.book_dir.glob("*.jsonl"))
    before = content(studio.index.conn)["release_sum"]
    (studio.book_dir / "copy.jsonl").write_bytes(file.read_bytes())
    studio.refresh()
    assert content(studio.index.conn)["release_sum"] == before


def test_readonly_studio_is_served(studio: Studio) -> None:
    """A folder that cannot be written still answers, from an index kept elsewhere."""
    fill(studio, 4)
    studio.close()
    origins = Origins((), studio.settings_file, studio.book_dir)
    index = open_index(None, origins)
    assert index.conn.execute("SELECT count(*) FROM test").fetchone()[0] == 4


def test_reading_never_makes_the_folder(tmp_path: Path) -> None:
    """Only the first write makes a studio."""
    studio = Studio(tmp_path / "not-yet")
    assert list_tests(studio) == []
    assert not studio.root.exists()
    with pytest.raises(DeskError, match="No test has an id"):
        show_test(studio, "01HZ")
    add_test(studio, spot(release=2))
    assert studio.settings_file.exists()
    assert len(list_tests(studio)) == 1


def test_each_link_of_a_chain_of_changes_is_followed_once() -> None:
    """Five thousand withdrawals of withdrawals took minutes: each was followed to the record anew."""
    chain = {f"c{number}": f"c{number - 1}" if number else "test" for number in range(5_000)}
    asked: list[str] = []

    def of(change: str) -> str | None:
        asked.append(change)
        return chain.get(change)

    found = roots_of(chain, of, lambda one: one == "test")
    assert set(found.values()) == {"test"}
    assert len(found) == len(asked) == len(chain)
    assert roots_of(["a", "b"], {"a": "b", "b": "a"}.get, lambda one: one == "test") == {}


@pytest.mark.parametrize("liquids", [0, 1, 84])
@pytest.mark.parametrize("each", [(1, 0, 0, 0, 1, 0, 0, 0), (2**40 + 257, -(2**39), 3**25, -5, 9, 9, 9, 9)])
def test_a_stored_sum_is_the_sum(liquids: int, each: tuple[int, ...]) -> None:
    """Without the bytes that none of its numbers needs; and never longer than as it is by much."""
    vector = sum(packed(each) << 64 * FIELDS * place for place in range(liquids))
    assert unpack(pack(vector)) == vector
    assert len(pack(vector)) <= 64 * FIELDS // 8 * liquids + 16
