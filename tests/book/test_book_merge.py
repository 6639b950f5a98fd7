"""Several benches, one book."""

import os
from pathlib import Path

from kb.book.files import files
from tests.book.test_book_append import put
from tests.whole_book import all_lines


def test_files_are_the_book_files_by_name_and_nothing_else(tmp_path: Path) -> None:
    for bench in ("b", "a", "c-1"):
        put(tmp_path, bench=bench)
    (tmp_path / "notes.txt").touch()
    (tmp_path / ".hidden.jsonl").touch()
    (tmp_path / "folder.jsonl").mkdir()
    (tmp_path / "circle.jsonl").symlink_to(tmp_path / "circle.jsonl")
    os.mkfifo(tmp_path / "pipe.jsonl")
    assert [path.name for path in files(tmp_path)] == ["a.jsonl", "b.jsonl", "c-1.jsonl"]
    assert files(tmp_path / "none") == []
    assert files(tmp_path / "notes.txt") == []


def test_all_lines_are_in_the_order_of_ids_each_once(tmp_path: Path) -> None:
    written = [put(tmp_path, bench=bench) for bench in ("b", "a", "b", "c", "a")]
    (tmp_path / "a (copy).jsonl").write_bytes((tmp_path / "a.jsonl").read_bytes())
    with open(tmp_path / "c.jsonl", "ab") as file:
        file.write(b"damage\n{torn")
    assert all_lines(tmp_path) == written


def test_no_book_yet(tmp_path: Path) -> None:
    assert all_lines(tmp_path / "none") == []
