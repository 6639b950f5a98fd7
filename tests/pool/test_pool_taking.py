"""Counts of other studios: taken in whole or not at all, and derived from their folder alone."""

from __future__ import annotations

import json
import os
import random
import shutil
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import check, rebuild
from kb.desk.pool.export import export
from kb.desk.pool.pool import add, drop, pool_dir, unknown_words, view, weigh
from kb.desk.pool.words import left_out_words
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index.pool_file import NotCounts, ReleaseCount, counts_file, parse
from kb.index.pool_rows import MOST_BLENDS
from kb.science.choose.pooling import RAW
from scripts.bench_parts.pool_sim import simulate_pool
from tests.conftest import spot
from tests.pool_help import (
    HEPTANE,
    TAPE,
    TODAY,
    NewStudio,
    ask,
    fill,
    harmed,
    pooled,
    raw,
    released,
    studio_id,
    sums,
    written,
)

# -- taking --------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_order_of_adding_leaves_no_trace(new_studio: NewStudio, tmp_path: Path) -> None:
    """One by one in any order, all at once, or derived anew: the same sums and the same answer."""
    paths = simulate_pool(tmp_path / "files", 7, 700, seed=3, compiled=new_studio("x").compiled)
    rng, states, answers = random.Random(1), [], []
    for number in range(3):
        studio = new_studio(f"taker{number}")
        order = rng.sample(paths, len(paths))
        for batch in [order] if number == 0 else [[one] for one in order]:
            add(studio, batch, TODAY)
            studio.refresh()
        states.append(pooled(studio))
        answers.append(raw(ask(studio)))
        if number == 2:
            rebuild(studio)
            states.append(pooled(studio))
            answers.append(raw(ask(studio)))
    assert states[0]["pool_release_sum"]
    assert all(state == states[0] for state in states)
    assert all(answer == answers[0] for answer in answers)


def test_which_blends_count_does_not_depend_on_the_order(new_studio: NewStudio, tmp_path: Path) -> None:
    """Only the blends that most studios tested are counted, also when a later file changes which."""
    mixes = [{"n-heptane": 100.0 - n, "ethanol": float(n)} for n in range(1, 2 * MOST_BLENDS)]
    paths = [
        written(tmp_path, 1, [released(0, 0, 0, 0, 2, parts=one) for one in mixes]),
        written(tmp_path, 2, [released(0, 0, 0, 0, 2, parts=one) for one in mixes[:5]]),
        written(tmp_path, 3, [released(0, 0, 0, 0, 2, parts=one) for one in mixes[3:9]]),
    ]
    states = []
    for number, order in enumerate(([0, 1, 2], [2, 1, 0], [1, 0, 2])):
        studio = new_studio(f"taker{number}")
        for place in order:
            add(studio, [paths[place]], TODAY)
            studio.refresh()
        states.append(pooled(studio))
    assert states[0] == states[1] == states[2]
    names = {liquid for liquid, parts in states[0]["slots"] if parts}
    assert len(names) == MOST_BLENDS
    assert {f"n-heptane {100 - n} + ethanol {n}" for n in range(1, 10)} <= names
    assert any("most studios tested" in warning for warning in view(studio).warnings)
    assert sum(one.not_counted for one in view(studio).studios) > 0


@pytest.mark.slow
def test_weight_nothing_is_as_dropped(new_studio: NewStudio, tmp_path: Path) -> None:
    """Answers are the same to the byte; and dropping all is as if there had never been a pool."""
    studio = new_studio("taker")
    before = raw(ask(studio))
    paths = [
        written(tmp_path, 1, [released(0, 0, 0, 0, 9)], [harmed(9, 0, 0, 0, 0)]),
        written(tmp_path, 2, [released(9, 0, 0, 0, 0)], [harmed(0, 0, 0, 9, 0)]),
    ]
    add(studio, paths, TODAY)
    both = raw(ask(studio))
    weigh(studio, studio_id(2), 0)
    without = raw(ask(studio))
    assert without not in (both, before)
    assert view(studio).studios[-1].weight == 0
    drop(studio, studio_id(2))
    assert raw(ask(studio)) == without
    weigh(studio, studio_id(1), 0)
    assert raw(ask(studio)) == before
    weigh(studio, studio_id(1), 1)
    assert raw(ask(studio)) == without
    drop(studio, studio_id(1))
    assert raw(ask(studio)) == before
    assert view(studio).studios == ()


def test_half_a_weight_is_half_of_each_cell(new_studio: NewStudio, tmp_path: Path) -> None:
    """Weighted fields are halved with rounding, cell by cell; counts that are told stay what they are."""
    full, half = new_studio("full"), new_studio("half")
    path = written(tmp_path, 1, [released(1, 0, 2, 0, 4)], [harmed(3, 0, 1, 0, 0)])
    add(full, [path], TODAY)
    add(half, [path], TODAY)
    weigh(half, studio_id(1), 0.5)
    for table in ("pool_release_sum", "pool_harm_sum"):
        whole, less = sums(full.index.conn, table), sums(half.index.conn, table)
        assert whole.keys() == less.keys()
        for key, numbers in whole.items():
            raw = RAW[0]
            assert less[key][:raw] == [(one + 1) // 2 for one in numbers[:raw]]
            assert less[key][raw:] == numbers[raw:]
    with pytest.raises(DeskError, match="from 0"):
        weigh(half, studio_id(1), 1.5)
    with pytest.raises(DeskError, match="from 0"):
        weigh(half, studio_id(1), float("nan"))
    assert not weigh(half, studio_id(1), 0.5).changed


def test_a_later_file_of_the_same_studio_takes_the_place_of_the_first(studio: Studio, tmp_path: Path) -> None:
    """With a note; the first one's counts are gone; the weight that was set stays."""
    add(studio, [written(tmp_path, 1, [released(9, 0, 0, 0, 0)], label="North")], TODAY)
    weigh(studio, "north", 0.25)
    later = written(tmp_path, 1, [released(0, 0, 0, 0, 3)], label="North")
    (one,) = add(studio, [later], date(2026, 5, 1))
    assert (one.result, "which held 9 tests" in one.text, "2026-03-02" in one.text) == (
        "replaced",
        True,
        True,
    )
    (held,) = view(studio).studios
    assert (held.release_tests, held.weight, held.added) == (3, 0.25, "2026-05-01")
    assert sums(studio.index.conn, "pool_release_sum")["*", "*", "*", "1", "n-heptane"][RAW[0] :][:2] == [
        3,
        3,
    ]
    (again,) = add(studio, [later], date(2026, 6, 1))
    assert again.result == "unchanged"


def test_own_counts_are_refused(studio: Studio, tmp_path: Path) -> None:
    """They are in the book already."""
    fill(studio, 5, 1)
    export(studio, tmp_path / "own.json")
    (one,) = add(studio, [tmp_path / "own.json"], TODAY)
    assert (one.result, "own book already" in one.text) == ("refused", True)
    assert view(studio).studios == ()


def test_unknown_ids_are_kept_and_listed_but_not_counted(new_studio: NewStudio, tmp_path: Path) -> None:
    """The rest of the file counts as if they were not there."""
    strange = [
        ReleaseCount("moon-glue", "oily", "", "swab", HEPTANE, (0, 0, 0, 0, 5)),
        ReleaseCount(*TAPE, {"moon-water": 100.0}, (0, 0, 0, 0, 2)),
        ReleaseCount(*TAPE, {"n-heptane": 50.0, "moon-oil": 50.0}, (0, 0, 0, 0, 1)),
    ]
    with_them, without = new_studio("with"), new_studio("without")
    add(with_them, [written(tmp_path, 1, [released(0, 0, 1, 0, 3), *strange])], TODAY)
    add(without, [written(tmp_path, 1, [released(0, 0, 1, 0, 3)])], TODAY)
    assert raw(ask(with_them)) == raw(ask(without))
    (one,) = view(with_them).studios
    assert one.unknown == ("moon-glue", "moon-oil", "moon-water")
    assert (one.release_tests, one.not_counted) == (12, 8)
    assert "moon-glue" in unknown_words(one)
    assert len(parse((pool_dir(with_them) / f"{studio_id(1)}.json").read_bytes()).release) == 4


def sound(**changes: Any) -> dict[str, Any]:
    """A sound file as JSON has it, with some fields changed and the checksum set right again."""
    counts = counts_file(studio_id(1), "North", [released(0, 0, 1, 0, 3)], [harmed(2, 0, 0, 0, 0)])
    value: dict[str, Any] = msgspec.to_builtins(counts) | changes
    if "checksum" not in changes:
        covered = [value.get(name) for name in ("format", "version", "studio", "label", "release", "harm")]
        value["checksum"] = sha256(msgspec.json.encode(covered, order="deterministic")).hexdigest()
    return value


def row(*fields: Any) -> dict[str, Any]:
    """A file with one release row of these fields."""
    return sound(release=[list(fields)])


BROKEN: dict[str, Any] = {
    "empty": b"",
    "no JSON": b"\x00\xff not JSON",
    "another JSON": {"answer": 42},
    "a list": [1, 2, 3],
    "another format": sound(format="something-else"),
    "a later version": sound(version=3),
    "an earlier version": sound(version=1),
    "an unknown field": sound(remark="of Mrs Smith"),
    "a wrong checksum": sound(checksum="0" * 64),
    "no checksum": sound(checksum=""),
    "a path as id": sound(studio="../../../../etc/passwd"),
    "a short id": sound(studio="ab"),
    "a capital id": sound(studio="A" * 32),
    "a number as id": sound(studio=7),
    "a label too long": sound(label="x" * 100),
    "a date that is none": sound(added="yesterday"),
    "a negative grade": row(*TAPE, HEPTANE, [-1, 0, 0, 0, 3]),
    "no tests": row(*TAPE, HEPTANE, [0, 0, 0, 0, 0]),
    "too many tests": row(*TAPE, HEPTANE, [0, 0, 0, 0, 10**7]),
    "far too many tests": row(*TAPE, HEPTANE, [0, 0, 0, 0, 10**30]),
    "half a test": row(*TAPE, HEPTANE, [0, 0, 0, 0, 1.5]),
    "true as a grade": row(*TAPE, HEPTANE, [0, 0, 0, 0, True]),
    "four grades": row(*TAPE, HEPTANE, [0, 0, 0, 1]),
    "a field more": row(*TAPE, HEPTANE, [0, 0, 0, 0, 1], "remark"),
    "markup as id": row("<b>glue</b>", *TAPE[1:], HEPTANE, [0, 0, 0, 0, 1]),
    "SQL as id": row("a'; DROP TABLE pool_slot; --", *TAPE[1:], HEPTANE, [0, 0, 0, 0, 1]),
    "an escape as id": row("glue\x1b[31m", *TAPE[1:], HEPTANE, [0, 0, 0, 0, 1]),
    "an id too long": row("a" * 200, *TAPE[1:], HEPTANE, [0, 0, 0, 0, 1]),
    "no adhesive": row("", *TAPE[1:], HEPTANE, [0, 0, 0, 0, 1]),
    "no liquid": row(*TAPE, {}, [0, 0, 0, 0, 1]),
    "parts that make no whole": row(*TAPE, {"acetone": 20.0}, [0, 0, 0, 0, 1]),
    "a negative part": row(*TAPE, {"acetone": 150.0, "ethanol": -50.0}, [0, 0, 0, 0, 1]),
    "endless parts": row(*TAPE, {f"x{n}": 1.0 for n in range(100)}, [0, 0, 0, 0, 1]),
    "a row twice": sound(release=[[*TAPE, HEPTANE, [0, 0, 0, 0, 1]]] * 2),
    "a blend twice": sound(
        release=[
            [*TAPE, {"acetone": 50.0, "ethanol": 50.0}, [0, 0, 0, 0, 1]],
            [*TAPE, {"ethanol": 50.0, "acetone": 50.001}, [0, 0, 0, 0, 1]],
        ]
    ),
    "no counts": sound(release=[], harm=[]),
    "nested without end": b'{"format":' + b"[" * 100_000,
}


@pytest.mark.parametrize(
    ("version", "said"),
    [
        (1, "counts looks that could show nothing of an ink; ask for it anew"),
        (3, "is newer than this program"),
    ],
)
def test_another_version_says_what_to_do(version: int, said: str) -> None:
    """Five looks at gloss alone, shared by a program of before, freed a liquid for ballpoint."""
    with pytest.raises(NotCounts, match=said):
        parse(json.dumps(sound(version=version)).encode())


@pytest.mark.slow
@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_or_hostile_file_is_refused_with_a_sentence(
    studio: Studio, tmp_path: Path, what: str
) -> None:
    """Never half added: the pool and the answers stay as they were, and a sound file beside it is taken."""
    before = raw(ask(studio))
    bad = BROKEN[what]
    path = tmp_path / "bad.json"
    path.write_bytes(bad if isinstance(bad, bytes) else json.dumps(bad).encode())
    (one,) = add(studio, [path], TODAY)
    assert one.result == "refused"
    assert one.text.startswith("bad.json was not added. ")
    assert one.text.endswith("Nothing was changed.")
    assert one.text.isprintable()
    assert list(pool_dir(studio).iterdir()) == []
    assert raw(ask(studio)) == before


def test_a_sound_file_beside_a_broken_one_is_taken(studio: Studio, tmp_path: Path) -> None:
    """And what is no file at all is said: missing, a folder, a pipe."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "bad.json").write_text("{")
    good = tmp_path / "good.json"
    good.write_text(json.dumps(sound()))
    files = [tmp_path / "bad.json", tmp_path / "none.json", tmp_path, tmp_path / "pipe", good]
    assert [one.result for one in add(studio, files, TODAY)] == ["refused"] * 4 + ["added"]


def test_a_file_that_is_too_large_is_refused_unread(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its size alone."""
    monkeypatch.setattr("kb.index.pool_file.MOST_BYTES", 100)
    (tmp_path / "large.json").write_text(json.dumps(sound()))
    (one,) = add(studio, [tmp_path / "large.json"], TODAY)
    assert (one.result, "at most 100" in one.text) == ("refused", True)


def test_a_hostile_label_is_cleaned(studio: Studio, tmp_path: Path) -> None:
    """It cannot steer a terminal, span lines, or say anything in the file of weights."""
    label = f"\x1b[31mNorth\n{studio_id(1)}: 0\u202e{{}}"
    (tmp_path / "a.json").write_text(json.dumps(sound(label=label)))
    (one,) = add(studio, [tmp_path / "a.json"], TODAY)
    assert one.result == "added"
    weigh(studio, studio_id(1), 0.5)
    (held,) = view(studio).studios
    assert held.weight == 0.5
    for text in (one.text, held.label, drop(studio, studio_id(1)).text):
        assert "\n" not in text
        assert "\x1b" not in text
        assert "\u202e" not in text


# -- the pool's folder ---------------------------------------------------------------------------


@pytest.mark.slow
def test_a_deleted_index_gives_the_same_answers(new_studio: NewStudio, tmp_path: Path) -> None:
    """Sums, weights and blends come back from the folder alone."""
    studio = fill(new_studio("taker"), 20, 5)
    add(studio, simulate_pool(tmp_path / "files", 5, 400, compiled=studio.compiled), TODAY)
    weigh(studio, view(studio).studios[0].studio, 0.3)
    state, answer = pooled(studio), raw(ask(studio))
    rebuild(studio)
    assert pooled(studio) == state
    assert raw(ask(studio)) == answer
    other = Studio(tmp_path / "copy")
    shutil.copytree(studio.root, other.root, ignore=shutil.ignore_patterns("index.db*"))
    assert raw(ask(other)) == answer


@pytest.mark.slow
def test_a_change_of_the_book_leaves_the_pool_as_it_is(new_studio: NewStudio, tmp_path: Path) -> None:
    """The pool has its own stamp: only what changed is derived again."""
    studio = new_studio("taker")
    add(studio, simulate_pool(tmp_path / "files", 3, 200, compiled=studio.compiled), TODAY)
    before, state = studio.index.conn.total_changes, pooled(studio)
    add_test(studio, spot(parts={"n-heptane": 0.5, "toluene": 0.5}, release=3))
    statements: list[str] = []
    studio.index.conn.set_trace_callback(statements.append)
    studio.refresh()
    studio.index.conn.set_trace_callback(None)
    assert studio.index.conn.total_changes > before
    assert not [one for one in statements if "INTO pool_" in one or "FROM pool_" in one]
    assert pooled(studio) == state
    next((studio.root / "book").glob("*.jsonl")).unlink()
    studio.refresh()
    assert pooled(studio) == state


def test_adding_one_file_adds_only_its_sums(new_studio: NewStudio, tmp_path: Path) -> None:
    """The files that are there already are not read again."""
    studio = new_studio("taker")
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 3)])], TODAY)
    studio.refresh()
    kept = pool_dir(studio) / f"{studio_id(1)}.json"
    state = kept.stat()
    kept.write_bytes(b"x" * state.st_size)
    os.utime(kept, ns=(state.st_atime_ns, state.st_mtime_ns))
    add(studio, [written(tmp_path, 2, [released(0, 0, 0, 0, 2)])], TODAY)
    assert sums(studio.index.conn, "pool_release_sum")["*", "*", "*", "1", "n-heptane"][RAW[0]] == 5
    assert all(not one.problem for one in view(studio).studios)


@pytest.mark.parametrize("damage", ["cut", "altered", "renamed"])
def test_a_file_damaged_in_the_folder_is_said_and_not_counted(
    studio: Studio, tmp_path: Path, damage: str
) -> None:
    """Nothing of it counts; the others do."""
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 3)])], TODAY)
    alone = ask(studio)
    add(studio, [written(tmp_path, 2, [released(5, 0, 0, 0, 0)], label="South")], TODAY)
    assert raw(ask(studio)) != raw(alone)
    path = pool_dir(studio) / f"{studio_id(2)}.json"
    if damage == "cut":
        path.write_bytes(path.read_bytes()[:-40])
    elif damage == "altered":
        path.write_bytes(path.read_bytes().replace(b"[5,0,0,0,0]", b"[9,0,0,0,0]"))
    else:
        path.rename(path.with_name(f"{studio_id(3)}.json"))
    studio.refresh()
    # All else is as it was; that it is missing is said.
    (said,) = left_out_words(studio)
    assert raw(ask(studio)) == raw(msgspec.structs.replace(alone, rests_on=f"{alone.rests_on} {said}"))
    (bad,) = (one for one in view(studio).studios if one.problem)
    assert bad.share == 0
    drop(studio, bad.studio)
    assert len(view(studio).studios) == 1


def test_a_file_of_before_is_told_where_its_counts_are_missed(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After an update a pool of version 1 fell silent: the check found nothing, nobody knew whom to ask."""
    add(studio, [written(tmp_path, 1, [released(5, 0, 0, 0, 0)], label="North studio")], TODAY)
    assert left_out_words(studio) == []
    path = pool_dir(studio) / f"{studio_id(1)}.json"
    path.write_bytes(path.read_bytes().replace(b'"version": 2', b'"version": 1'))
    studio.refresh()
    (said,) = left_out_words(studio)
    assert said.startswith("Not counted of the pool: the file of North studio (00000000). It has version 1 ")
    assert "ask for it anew" in said
    assert ask(studio).rests_on.endswith(f" {said}")
    assert (
        main(["check", "--studio", str(studio.root)]),
        said in " ".join(capsys.readouterr().out.split()),
    ) == (1, True)
    assert main(["pool", "--studio", str(studio.root)]) == 0
    assert "North studio" in capsys.readouterr().out
    # Whoever let it weigh nothing misses nothing.
    weigh(studio, "North studio", 0)
    assert left_out_words(studio) == []
    assert said not in ask(studio).rests_on
    (pool_dir(studio) / "weights.yaml").write_text("nonsense\n")
    assert any(one.startswith("weights.yaml:1:") for one in check(studio).problems)


def test_what_else_lies_in_the_folder_is_passed_over(studio: Studio, tmp_path: Path) -> None:
    """Half-written files, links, pipes and notes of people are not read."""
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 3)])], TODAY)
    answer, folder = raw(ask(studio)), pool_dir(studio)
    (folder / f".{studio_id(2)}.json.123.part").write_text("{")
    (folder / "README.txt").write_text("ours")
    os.mkfifo(folder / f"{studio_id(3)}.json")
    (folder / f"{studio_id(4)}.json").symlink_to(tmp_path / "counts-1.json")
    studio.refresh()
    assert raw(ask(studio)) == answer


def test_the_file_of_weights_is_read_with_care(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line that cannot be read is said; a studio whose weight is not a number does not count."""
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 3)])], TODAY)
    path = pool_dir(studio) / "weights.yaml"
    for text, weight, problems in (
        (f"{studio_id(1)}: 0.5\n", 0.5, 0),
        (f'# ours\n\n"{studio_id(1)}": 0.25  # North\n', 0.25, 0),
        (f"{studio_id(1)}: 1e9\n", 0, 1),
        (f"{studio_id(1)}: nan\n", 0, 1),
        (f"{studio_id(1)}: half\n", 0, 1),
        ("a heap of words\n", 1, 1),
        (f"{studio_id(9)}: 0.5\n", 1, 0),
    ):
        path.write_text(text)
        studio.refresh()
        assert [one.weight for one in view(studio).studios] == [weight], text
        assert len([w for w in view(studio).warnings if w.startswith("weights.yaml:")]) == problems, text
    path.write_text("a heap of words\n")
    with pytest.raises(DeskError, match="Mend this first"):
        weigh(studio, studio_id(1), 0.5)
    # What is refused leaves the counts where they are, too.
    with pytest.raises(DeskError, match=r"Mend this first\. Nothing was changed"):
        drop(studio, studio_id(1))
    counts = path.parent / f"{studio_id(1)}.json"
    assert counts.is_file()
    assert path.read_text() == "a heap of words\n"
    # Counts that stay keep their weight, or those that did not count would count in full.
    path.write_text(f"{studio_id(1)}: 0\n")
    unlink = Path.unlink

    def held(file: Path, missing_ok: bool = False) -> None:
        if file == counts:
            raise PermissionError("held by another program")
        unlink(file, missing_ok)

    monkeypatch.setattr(Path, "unlink", held)
    with pytest.raises(DeskError, match="Nothing was changed"):
        drop(studio, studio_id(1))
    assert [one.weight for one in view(studio).studios] == [0]


def test_a_studio_is_named_by_the_start_of_its_id_or_its_label(studio: Studio, tmp_path: Path) -> None:
    """What fits none or several is said."""
    add(studio, [written(tmp_path, n, [released(0, 0, 0, 0, n)], label="Twin") for n in (1, 2)], TODAY)
    with pytest.raises(DeskError, match="several studios"):
        weigh(studio, "twin", 0.5)
    with pytest.raises(DeskError, match="No studio of the pool"):
        drop(studio, "\x1b[31mnobody")
    assert drop(studio, studio_id(2)).changed
    assert weigh(studio, "TWIN", 0.5).studio == studio_id(1)


def test_one_studio_with_most_of_the_pool_is_warned_of(studio: Studio, tmp_path: Path) -> None:
    """From more than 60 % on; the share leaves out what is not counted."""

    def warned() -> bool:
        return any("come from one studio" in one for one in view(studio).warnings)

    add(studio, [written(tmp_path, n, [released(0, 0, 0, 0, 10)]) for n in (1, 2)], TODAY)
    assert not warned()
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 15)])], TODAY)
    assert view(studio).studios[0].share == pytest.approx(0.6)
    assert not warned()
    weigh(studio, studio_id(2), 0)
    assert warned()
