"""A record that another bench wrote under an id of ours changes nothing that counts here."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from kb.book.line import decode_line, encode_line, hash_of
from kb.book.verify import verify
from kb.desk.keep import rebuild
from kb.desk.records.record import add_test, show_test
from kb.desk.sharing.share import join, share
from kb.desk.studio import Studio
from kb.model.record import Line
from tests.conftest import spot
from tests.faults.tools import without_names
from tests.share_help import Bench, bench, by_hand, hub
from tests.whole_book import all_lines

__all__ = ["bench", "hub", "without_names"]

HONEST = {"release": 3, "harm": {"bleed": 0}}
FORGED = {"release": 0, "harm": {"bleed": 4}}


def forged(line: Line, *, bench: str, prev: str, at: str) -> bytes:
    """The same id, with another content, as bytes of a whole line."""
    body = {**msgspec.json.decode(line.body), **FORGED}
    made = msgspec.structs.replace(
        line, bench=bench, at=at, prev=prev, body=msgspec.Raw(msgspec.json.encode(body))
    )
    return encode_line(made) + b"\n"


def grades(studio: Studio, record_id: str) -> tuple[int | None, dict[str, int]]:
    test = show_test(studio, record_id).test
    return test.release, test.harm


@pytest.mark.usefixtures("without_names")
@pytest.mark.parametrize("name", ["aaa", "zzz"])
@pytest.mark.parametrize("at", ["1999-01-01T00:00:00.000Z", "2099-01-01T00:00:00.000Z"])
@pytest.mark.parametrize("claimed", ["own", "north"])
def test_a_forged_record_counts_nowhere_that_knew_the_honest_one(
    name: str, at: str, claimed: str, bench: Bench, hub: Path, tmp_path: Path
) -> None:
    north, south = bench("north"), bench("south")
    honest = add_test(north, spot(sheet="A", **HONEST)).id
    join(north, str(hub))
    join(south, str(hub))
    clone = tmp_path / "clone"
    by_hand(tmp_path, "clone", "-q", "-b", "main", str(hub), str(clone))
    line = decode_line((clone / "book" / "north.jsonl").read_bytes().splitlines()[0])
    whose = "north" if claimed == "north" else name
    made = forged(line, bench=whose, prev="0" * 64, at=at)
    if claimed == "own":
        # The honest one behind it, so that the last of its id to arrive says nothing new.
        made += encode_line(msgspec.structs.replace(line, prev=hash_of(made[:-1]))) + b"\n"
    (clone / "book" / f"{name}.jsonl").write_bytes(made)
    by_hand(clone, "add", "-A", "-f", "book")
    by_hand(clone, "commit", "-qm", "x")
    by_hand(clone, "push", "-q")
    for studio in (north, south):
        told = share(studio).told
        assert any(honest in text and f"book/{name}.jsonl" in text for text in told), told
        for _ in range(2):
            assert grades(studio, honest) == (3, {"bleed": 0})
            assert next(row for row in all_lines(studio.book_dir) if row.id == honest).bench == "north"
            rebuild(studio)
        errors = [one for one in verify(studio.book_dir) if one.severity == "error"]
        assert [one.file for one in errors] == [f"{name}.jsonl"], errors
        assert share(studio).told == ()


def test_a_rewritten_file_of_ours_does_not_take_the_place_of_ours(
    bench: Bench, hub: Path, tmp_path: Path
) -> None:
    north = bench("north")
    honest = add_test(north, spot(sheet="A", **HONEST)).id
    second = add_test(north, spot(sheet="B")).id
    join(north, str(hub))
    clone = tmp_path / "clone"
    by_hand(tmp_path, "clone", "-q", "-b", "main", str(hub), str(clone))
    path = clone / "book" / "north.jsonl"
    first, later = (decode_line(raw) for raw in path.read_bytes().splitlines())
    made = forged(first, bench="north", prev=first.prev, at=first.at)
    relinked = encode_line(msgspec.structs.replace(later, prev=hash_of(made[:-1]))) + b"\n"
    path.write_bytes(made + relinked)
    by_hand(clone, "commit", "-qam", "x")
    by_hand(clone, "push", "-q")
    assert share(north).told
    assert grades(north, honest) == (3, {"bleed": 0})
    assert show_test(north, second).state == ""
    assert [one for one in verify(north.book_dir) if one.severity == "error"] == []
