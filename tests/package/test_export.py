"""A package holds everything, says what it is, acts as nothing, and is whole or not there at all."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.book.files import files
from kb.book.fold import fold
from kb.book.line import encode_line
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.package import files as package_files
from kb.desk.package import write as package
from kb.desk.package.tables import LONGEST_CELL, shapes
from kb.desk.package.write import export
from kb.desk.studio import Studio
from kb.index.walk import Walk
from tests.package_help import HOSTILE, NOT_HERE, every_kind, hostile, load_sqlite, put, rows, spot_body
from tests.whole_book import all_lines

ROOT = Path(__file__).parents[2]


def head_of(folder: Path) -> dict[str, Any]:
    """The descriptor."""
    return dict(json.loads((folder / "datapackage.json").read_bytes()))


def unmarked(text: str) -> str:
    """The text of a marked cell."""
    return text.removeprefix("'")


def shown(path: str, sha: str) -> tuple[str, Any]:
    """A spot test with a photograph."""
    return ("test", spot_body(photos=[{"path": path, "sha256": sha}]))


def test_every_resource_has_its_size_and_hash_and_every_column_its_meaning(
    studio: Studio, tmp_path: Path
) -> None:
    every_kind(studio.root)
    made = export(studio, tmp_path / "out")
    head = head_of(tmp_path / "out")
    assert {"profile", "name", "title", "created", "resources"} <= set(head)
    assert "licenses" not in head
    for one in head["resources"]:
        data = (tmp_path / "out" / one["path"]).read_bytes()
        assert one["bytes"] == len(data)
        assert (
            one["hash"]
            == "sha256:" + hashlib.sha256(data).hexdigest()
            == "sha256:" + made.checksums[one["path"]]
        )
        for field in one.get("schema", {"fields": []})["fields"]:
            assert field["type"]
            assert len(field["description"]) > 5
    there = {path.relative_to(tmp_path / "out").as_posix() for path in (tmp_path / "out").rglob("*.*")}
    assert there == {one["path"] for one in head["resources"]} | {"datapackage.json", "README.txt"}


def test_units_stand_beside_columns(studio: Studio, tmp_path: Path) -> None:
    export(studio, tmp_path / "out")
    units = {
        (one["name"], field["name"]): field.get("unit")
        for one in head_of(tmp_path / "out")["resources"]
        for field in one.get("schema", {"fields": []})["fields"]
    }
    assert units["rounds", "dwell_s"] == "s"
    assert units["spot_tests", "site_x_mm"] == "mm"
    assert units["bath_readings", "temperature_c"] == "degrees Celsius"
    assert units["bath_readings", "conductivity_us_cm"] == "microsiemens per centimetre"
    assert units["spot_tests", "remarks"] is None


def test_every_field_of_every_kind_is_in_some_table(studio: Studio, tmp_path: Path) -> None:
    """A kind or field that is added later comes by itself."""
    export(studio, tmp_path / "out")
    columns = {
        one["name"]: [field["name"] for field in one["schema"]["fields"]]
        for one in head_of(tmp_path / "out")["resources"]
        if "schema" in one
    }
    from kb.book.kinds.table import KEPT

    assert set(shapes()) == {"test", *KEPT}
    for shape in shapes().values():
        held = {column.path[0] for column in shape.columns} | {child.field for child in shape.children}
        assert held == set(shape.kind.type.__struct_fields__)
        assert {column.name for column in shape.columns} <= set(columns[shape.kind.table])
        assert all(child.table in columns for child in shape.children)


def test_a_spot_test_can_be_understood_from_its_row(studio: Studio, tmp_path: Path) -> None:
    ids = every_kind(studio.root)
    export(studio, tmp_path / "out")
    first, second = rows(tmp_path / "out", "spot_tests")
    assert list(first)[:6] == ["id", "at_utc", "who", "bench", "sheet", "tape"]
    assert first["at_utc"] == "2024-11-01T10:00:00.000Z"
    assert (first["release"], first["release_in_words"]) == ("4", "4 releases clean")
    assert (first["harm_bleed"], first["harm_gloss"], first["harm_colour"], first["harm_worst"]) == (
        "0",
        "3",
        "",
        "3",
    )
    assert first["not_looked_at"] == "offset, tideline, surface, colour"
    assert (first["site_x_mm"], first["liquid"], first["state"]) == ("-4", "Acetone", "amended")
    assert (second["liquid"], second["state"]) == ("Acetone 25 % + Water 75 %", "withdrawn")
    assert unmarked(second["withdrawn_because"]) == "-wrong sheet"
    assert [row["in_words"] for row in rows(tmp_path / "out", "harm")] == ["0 none seen", "3 clear change"]
    assert rows(tmp_path / "out", "rounds")[0]["dwell_s"] == "90.5"
    assert rows(tmp_path / "out", "batches")[0]["hazards"] == "irritant; dust"
    assert [row["state"] for row in rows(tmp_path / "out", "records")][:3] == [
        "amended",
        "withdrawn",
        "current",
    ]
    changes = rows(tmp_path / "out", "changes")
    assert [(one["of"], one["of_not_here"], one["record"], one["in_force"]) for one in changes] == [
        (ids[0], "", ids[0], "true"),
        (ids[1], "", ids[1], "true"),
        ("", NOT_HERE, "", "false"),
        (ids[8], "", ids[8], "true"),
    ]
    (other,) = rows(tmp_path / "out", "other_records")
    assert (other["kind"], other["state"]) == ("later-kind", "withdrawn")
    assert json.loads(other["body"])["=x"] == [1, {"y": "=2"}]


def test_the_tables_agree_with_the_answers_of_the_program(studio: Studio, tmp_path: Path) -> None:
    """State, release and harm of each row are those of the index, which folds the book on its own."""
    from kb.desk.records.record import list_tests

    ids = put(
        studio.root, "a", [("test", spot_body(harm={"gloss": n % 5}, release=n % 5)) for n in range(30)]
    )
    changes: list[tuple[str, Any]] = []
    for number, of in enumerate(ids):
        if number % 3 == 0:
            changes.append(("amend", {"of": of, "set": {"release": (number + 1) % 5}, "why": "w"}))
        if number % 4 == 0:
            changes.append(("withdraw", {"of": of, "why": "w"}))
    second = put(studio.root, "b", changes, start=100)
    put(studio.root, "a", [("withdraw", {"of": second[n], "why": "undo"}) for n in (1, 3, 5)], start=200)
    export(studio, tmp_path / "out")
    told = {one.id: one for one in list_tests(studio, limit=0)}
    found = rows(tmp_path / "out", "spot_tests")
    assert len(found) == len(told) == 30
    for row in found:
        one = told[row["id"]]
        assert row["state"] == (one.state or "current")
        assert (int(row["release"]), int(row["harm_worst"])) == (one.release, one.harm)
    assert {row["state"] for row in found} == {"current", "amended", "withdrawn"}


def test_a_record_in_two_files_is_one_row_and_of_two_contents_the_books_rule_counts(
    studio: Studio, tmp_path: Path
) -> None:
    """Copies of files and altered copies: whichever file is read first, the row is what the fold says."""
    ids = put(studio.root, "m", [("test", spot_body(remarks="middle", release=n)) for n in range(2)])
    lines = all_lines(studio.root / "book")
    for bench, at in (("a", "2025-01-01T00:00:00.000Z"), ("z", "2023-01-01T00:00:00.000Z")):
        body = msgspec.Raw(msgspec.json.encode(spot_body(remarks=bench)))
        changed = msgspec.structs.replace(lines[0], at=at, body=body)
        raw = encode_line(changed) + b"\n" + encode_line(lines[1]) + b"\n"
        (studio.root / "book" / f"{bench}.jsonl").write_bytes(raw)
    export(studio, tmp_path / "out")
    found = rows(tmp_path / "out", "spot_tests")
    assert [row["id"] for row in found] == ids
    now = fold(all_lines(studio.root / "book")).tests
    assert [row["remarks"] for row in found] == [now[one].body.remarks for one in ids] == ["z", "middle"]


@pytest.mark.parametrize("make", [every_kind, hostile])
def test_foreign_keys_hold_in_another_database(
    make: Callable[[Path], list[str]], studio: Studio, tmp_path: Path
) -> None:
    """SQLite, fed by the CSV reader of the standard library, finds each key once and each reference there."""
    count = len(make(studio.root))
    export(studio, tmp_path / "out")
    conn = load_sqlite(tmp_path / "out")
    assert conn.execute("PRAGMA foreign_key_check").fetchall() == []
    assert conn.execute("SELECT count(*) FROM records").fetchone() == (count,)
    conn.execute("INSERT INTO harm (record, number) VALUES ('nobody', 1)")
    assert len(conn.execute("PRAGMA foreign_key_check").fetchall()) == 1


def test_no_text_acts_as_a_formula_and_numbers_stay_numbers(studio: Studio, tmp_path: Path) -> None:
    hostile(studio.root)
    export(studio, tmp_path / "out")
    texts = {
        (one["name"], field["name"])
        for one in head_of(tmp_path / "out")["resources"]
        for field in one.get("schema", {"fields": []})["fields"]
        if field["type"] == "string"
    }
    cells = 0
    for table in {name for name, _ in texts}:
        for row in rows(tmp_path / "out", table):
            for name, cell in row.items():
                if (table, name) in texts:
                    assert cell.lstrip()[:1] not in {"=", "+", "-", "@"}, (table, name, cell[:40])
                    assert cell[:1] not in {"\t", "\r", "\0"}
                    cells += 1
    assert cells > 500
    last = rows(tmp_path / "out", "spot_tests")[-1]
    assert (last["site_x_mm"], last["site_y_mm"], last["site_words"]) == ("-4", "0.1", "'-4")


def test_taking_one_mark_off_gives_every_text_back(studio: Studio, tmp_path: Path) -> None:
    put(studio.root, "a", [("test", spot_body(remarks=text)) for text in HOSTILE])
    export(studio, tmp_path / "out")
    export(studio, tmp_path / "raw", raw=True)
    assert [unmarked(row["remarks"]) for row in rows(tmp_path / "out", "spot_tests")] == list(HOSTILE)
    assert [row["remarks"] for row in rows(tmp_path / "raw", "spot_tests", "tables-raw")] == list(HOSTILE)
    assert "do not open them in a spreadsheet" in (tmp_path / "raw" / "README.txt").read_text().replace(
        "\n", " "
    )


def test_controls_are_made_visible_and_long_text_is_cut_with_a_note(studio: Studio, tmp_path: Path) -> None:
    put(studio.root, "a", [("test", spot_body(remarks="a\x1b[2J\x07b\u202ec", sheet="m" * 40_000))])
    export(studio, tmp_path / "out")
    (row,) = rows(tmp_path / "out", "spot_tests")
    assert row["remarks"] == "a\ufffd[2J\ufffdb\ufffdc"
    assert row["sheet"].startswith("m" * LONGEST_CELL + " [shortened: 40,000 characters")


def test_damaged_lines_are_kept_and_named(studio: Studio, tmp_path: Path) -> None:
    ids = put(
        studio.root,
        "a",
        [("test", spot_body()), ("bottle", {"liquid": ""}), ("amend", {"of": "x", "set": {}, "why": ""})],
    )
    path = studio.root / "book" / "a.jsonl"
    with path.open("ab") as out:
        out.write(b"no record\n{torn")
    made = export(studio, tmp_path / "out")
    assert made.damaged_lines == 2
    assert (tmp_path / "out" / "book" / "a.jsonl").read_bytes() == path.read_bytes()
    assert [row["line"] for row in rows(tmp_path / "out", "damaged_lines")] == ["4", "5"]
    assert [row["id"] for row in rows(tmp_path / "out", "other_records")] == ids[1:]
    assert [row["state"] for row in rows(tmp_path / "out", "records")] == ["current", "unread", "unread"]


def test_photographs_are_taken_by_content_and_links_are_not_followed(studio: Studio, tmp_path: Path) -> None:
    good, other = tmp_path / "Before One.JPG", tmp_path / "other.jpg"
    good.write_bytes(b"picture")
    other.write_bytes(b"something else")
    link = tmp_path / "link.jpg"
    link.symlink_to(good)
    os.mkfifo(tmp_path / "pipe.jpg")
    sha = hashlib.sha256(b"picture").hexdigest()
    paths = [
        str(good),
        str(other),
        str(link),
        str(tmp_path / "pipe.jpg"),
        "../Before One.JPG",
        "\x00",
        "=x.jpg",
    ]
    put(
        studio.root,
        "a",
        [
            ("test", spot_body(photos=[{"path": path, "sha256": sha[:-1] + str(n)}]))
            for n, path in enumerate(paths[1:])
        ]
        + [shown(str(good), sha)],
    )
    made = export(studio, tmp_path / "out")
    assert made.photographs == 1
    assert (tmp_path / "out" / "photographs" / f"{sha}.jpg").read_bytes() == b"picture"
    found = rows(tmp_path / "out", "photographs")
    assert [row["file"] for row in found] == [""] * 6 + [f"photographs/{sha}.jpg"]
    assert "another one" in found[0]["why_not_here"]
    assert "link" in found[1]["why_not_here"]
    assert "plain file" in found[2]["why_not_here"]
    assert found[3]["why_not_here"] == "no file is there"
    assert len(made.left_out) == 6
    assert export(studio, tmp_path / "bare", photographs=False).photographs == 0


def test_photographs_that_an_amendment_replaced_and_those_in_the_studio_are_kept(
    studio: Studio, tmp_path: Path
) -> None:
    """What was first shown still belongs to the record; what lies in the studio by its hash is its own."""
    names = {}
    for text in ("first", "second", "own", "false name"):
        names[text] = hashlib.sha256(text.encode()).hexdigest()
        (tmp_path / f"{text}.png").write_bytes(text.encode())
    own = studio.root / "photographs"
    own.mkdir()
    (own / f"{names['own']}.png").write_bytes(b"own")
    (own / f"{names['false name']}.png").write_bytes(b"not that")
    (own / "holiday.png").write_bytes(b"no name of a hash")
    second = {"path": str(tmp_path / "second.png"), "sha256": names["second"]}
    first = shown(str(tmp_path / "first.png"), names["first"])
    amended = ("amend", lambda ids: {"of": ids[0], "set": {"photos": [second]}, "why": "w"})
    put(studio.root, "a", [first, amended])
    made = export(studio, tmp_path / "out")
    there = sorted(path.name for path in (tmp_path / "out" / "photographs").iterdir())
    assert there == sorted(f"{names[text]}.png" for text in ("first", "second", "own"))
    assert [row["sha256"] for row in rows(tmp_path / "out", "photographs")] == [names["second"]]
    assert [one.what for one in made.left_out] == [f"photograph photographs/{names['false name']}.png"]


def test_links_in_the_studio_are_not_followed_out_of_it(studio: Studio, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("name: secret")
    put(studio.root, "a", [("test", spot_body())])
    (studio.root / "book" / "b.jsonl").symlink_to(secret)
    (studio.root / "catalogue").mkdir()
    (studio.root / "catalogue" / "x.yaml").symlink_to(secret)
    (studio.root / "shelf.yaml").symlink_to(secret)
    (studio.root / "pool").symlink_to(tmp_path)
    made = export(studio, tmp_path / "out")
    assert {one.what for one in made.left_out} == {"book/b.jsonl", "catalogue/x.yaml", "shelf.yaml"}
    assert all(b"secret" not in path.read_bytes() for path in (tmp_path / "out").rglob("*.*"))


def test_the_same_studio_gives_the_same_bytes(studio: Studio, tmp_path: Path) -> None:
    every_kind(studio.root)
    one = export(studio, tmp_path / "one", zipped=True)
    os.utime(studio.root / "book" / "bench-a.jsonl", (1, 1))
    two = export(studio, tmp_path / "two.zip", zipped=True)
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    assert one.sha256 == two.sha256 == hashlib.sha256((tmp_path / "one.zip").read_bytes()).hexdigest()
    export(studio, tmp_path / "folder")
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        inside = {name: archive.read(name) for name in archive.namelist()}
    assert inside == {
        path.relative_to(tmp_path / "folder").as_posix(): path.read_bytes()
        for path in (tmp_path / "folder").rglob("*.*")
    }


def test_nothing_is_overwritten_and_the_studio_stays_free_of_packages(studio: Studio, tmp_path: Path) -> None:
    put(studio.root, "a", [("test", spot_body())])
    (tmp_path / "there").mkdir()
    (tmp_path / "file.zip").write_bytes(b"mine")
    for target, zipped in (
        (tmp_path / "there", False),
        (tmp_path / "file", True),
        (studio.root / "out", False),
    ):
        with pytest.raises(DeskError):
            export(studio, target, zipped=zipped)
    with pytest.raises(DeskError, match="make it first"):
        export(studio, tmp_path / "no" / "such" / "out")
    with pytest.raises(DeskError, match="no studio folder"):
        export(Studio(tmp_path / "nowhere"), tmp_path / "out")
    (studio.root / "exports").mkdir()
    assert export(studio, studio.root / "exports" / "out").path.endswith("exports/out")
    assert (tmp_path / "file.zip").read_bytes() == b"mine"
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix == ".part") == []


@pytest.mark.parametrize("zipped", [False, True])
def test_a_full_disk_leaves_nothing(
    zipped: bool, studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever sync is refused, from the first file to the name of the finished package."""
    every_kind(studio.root)
    really, count, limit = os.fsync, 0, 10_000

    def fsync(fd: int) -> None:
        nonlocal count
        count += 1
        if count > limit:
            raise OSError(errno.ENOSPC, "No space left on device")
        really(fd)

    monkeypatch.setattr(package_files.os, "fsync", fsync)
    export(studio, tmp_path / "whole", zipped=zipped)
    total = count
    assert total > 20
    (tmp_path / "place").mkdir()
    for allowed in (0, 1, total // 2, total - 2, total - 1):
        count, limit = 0, allowed
        with pytest.raises(DeskError, match=r"no room on the disk for .*; nothing of it was kept"):
            export(studio, tmp_path / "place" / "out", zipped=zipped)
        assert list((tmp_path / "place").iterdir()) == []


def test_a_file_size_limit_of_the_system_leaves_nothing(studio: Studio, tmp_path: Path) -> None:
    """A real refusal by the system in the midst of a file, not a made one."""
    put(studio.root, "a", [("test", spot_body(remarks="x" * 900)) for _ in range(200)])
    (tmp_path / "place").mkdir()
    code = (
        "import resource, signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "from pathlib import Path; from kb.desk.studio import Studio;"
        "from kb.desk.package.write import export;"
        "from kb.desk.errors import DeskError; studio = Studio(Path(sys.argv[1])); studio.index;"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "try: export(studio, Path(sys.argv[2]))\n"
        "except DeskError as error: print(error)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(studio.root), str(tmp_path / "place" / "out")],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert "cannot be written" in done.stdout, done.stderr
    assert list((tmp_path / "place").iterdir()) == []


def test_a_writer_that_never_lets_go_stops_the_export(
    studio: Studio, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It says so in a sentence, and nothing is left."""
    import fcntl

    put(studio.root, "a", [("test", spot_body())])
    studio.index  # noqa: B018 - opened before the file is held
    monkeypatch.setattr(package_files, "LOCK_WAIT_S", 0.0)
    with (studio.root / "book" / "a.jsonl").open("ab") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(DeskError, match="keeps writing"):
            export(studio, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_memory_does_not_grow_with_the_book(studio: Studio, tmp_path: Path) -> None:
    """Ten times the records take no more than a few megabytes more."""
    code = (
        "import resource, sys; from pathlib import Path; from kb.index.walk import Walk;"
        "from kb.desk.package.fill import fill_tables; from kb.desk.package.fill import Photographs;"
        "out = Path(sys.argv[2]); out.mkdir();"
        "walk = Walk([Path(sys.argv[1])]);"
        "fill_tables(out, walk, {}, Photographs(out, out, take=False), raw=False);"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"
    )
    used = []
    for number, count in enumerate((1_000, 10_000)):
        put(studio.root, f"b{number}", [("test", spot_body(remarks="r" * 600))] * count)
        book, out = studio.root / "book" / f"b{number}.jsonl", tmp_path / f"o{number}"
        done = subprocess.run(
            [sys.executable, "-c", code, str(book), str(out)],
            cwd=ROOT, capture_output=True, text=True, check=True, timeout=120,
        )  # fmt: skip
        used.append(int(done.stdout))
    assert used[1] - used[0] < 12, used


def test_a_long_book_is_read_with_few_files_open(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """All records come, however many pieces; one that is replaced meanwhile is not read for the old one."""
    monkeypatch.setattr("kb.index.walk.MOST_OPEN", 3)
    for number in range(8):
        put(studio.root, f"b{number}", [("test", spot_body(remarks=f"of {number}"))] * 2)
    paths = files(studio.root / "book")
    with Walk(paths) as walk:
        found = []
        for one in walk.standing("test"):
            assert len(walk._open) <= 3
            found.append(one.body.remarks)
        assert sorted(found) == sorted(f"of {number}" for number in range(8) for _ in range(2))
        last = paths.index(studio.root / "book" / "b0.jsonl")
        assert last not in walk._open
        paths[last].rename(paths[last].with_suffix(".old"))
        paths[last].write_bytes(paths[last].with_suffix(".old").read_bytes())
        with pytest.raises(OSError, match="replaced"):
            list(walk.standing("test"))


def test_command_tells_counts_checksums_and_what_was_left_out(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ids = every_kind(studio.root)
    studio.close()
    where = ["--studio", str(studio.root)]
    assert main([*where, "export", str(tmp_path / "out"), "--zip", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["tables"]["spot_tests"] == 2
    assert (
        told["checksums"]["book/bench-a.jsonl"]
        == hashlib.sha256((studio.root / "book" / "bench-a.jsonl").read_bytes()).hexdigest()
    )
    assert told["left_out"][0]["what"] == "photograph ../up.jpg"
    assert main([*where, "export", str(tmp_path / "out"), "--zip"]) == 3
    assert "exists already" in capsys.readouterr().err
    assert main([*where, "export"]) == 3
    assert main([*where, "export", "--record", ids[4], str(tmp_path / "r.txt")]) == 0
    assert "BATCH " + ids[4] in (tmp_path / "r.txt").read_text()
    assert main([*where, "export", "--record", ids[4], str(tmp_path / "r.txt")]) == 3
    shutil.rmtree(studio.root / "book")
    studio.close()
    assert main([*where, "export", str(tmp_path / "empty")]) == 0
    assert msgspec.json.decode((tmp_path / "empty" / "datapackage.json").read_bytes())["resources"]
    assert package.ZIP_TIME[0] == 1980
