"""Packages against an outside reader of the open standard.

Source: the Data Package and Table Schema specifications (Frictionless Data, Open Knowledge Foundation), as
the `frictionless` library for Python checks them: descriptor, size and hash of every resource, type and
constraints of every cell, primary and foreign keys. The text of the specifications themselves was not read
for this check; the keys in the descriptor are from memory, and the library is the judge.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kb.desk.demo import shipped_demo
from kb.desk.package.write import export
from kb.desk.studio import Studio
from tests import package_help

MakeStudio = Callable[[str], Studio]


def judged(descriptor: Path) -> list[list[object]]:
    """All errors that the library finds."""
    # Here, for every worker reads every file of tests, and this takes a quarter of a second.
    import frictionless

    report = frictionless.validate(str(descriptor))
    assert len(report.tasks) > 10
    assert report.warnings == []
    return report.flatten(["name", "type", "note", "rowNumber", "fieldName"])


@pytest.mark.published
@pytest.mark.parametrize("kind", ["empty", "demo", "every kind", "hostile"])
def test_packages_are_valid_for_an_outside_reader(kind: str, new_studio: MakeStudio, tmp_path: Path) -> None:
    """Folder and zip file of any studio are valid, marked and raw."""
    studio = new_studio("studio")
    if kind == "demo":
        (studio.root / "book").mkdir()
        for path in (shipped_demo() / "book").iterdir():
            (studio.root / "book" / path.name).write_bytes(path.read_bytes())
    elif kind == "every kind":
        package_help.every_kind(studio.root)
    elif kind == "hostile":
        package_help.hostile(studio.root)
    export(studio, tmp_path / "out")
    assert judged(tmp_path / "out" / "datapackage.json") == []
    if kind in {"hostile", "empty"}:
        export(studio, tmp_path / "raw", raw=True, zipped=True)
        assert judged(tmp_path / "raw.zip") == []


@pytest.mark.published
def test_the_outside_reader_sees_what_is_wrong(new_studio: MakeStudio, tmp_path: Path) -> None:
    """The check can fail: a changed byte, a cell of the wrong type, a row that belongs to no record."""
    studio = new_studio("studio")
    package_help.every_kind(studio.root)
    export(studio, tmp_path / "out")
    book = tmp_path / "out" / "book" / "bench-a.jsonl"
    book.write_bytes(book.read_bytes().replace(b"seen again", b"seen twice"))
    harm = tmp_path / "out" / "tables" / "harm.csv"
    harm.write_bytes(harm.read_bytes() + b'"01J00000000000000000000000",1,"gloss","bad","4 loss"\r\n')
    found = {str(row[1]) for row in judged(tmp_path / "out" / "datapackage.json")}
    assert {"hash-count", "type-error", "foreign-key"} <= found
