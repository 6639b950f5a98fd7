"""The rows that the index derives from a book, and the files of an exported package, to the letter."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path

from kb.cli.main import main
from kb.desk.studio import Studio
from kb.index.schema import VERSION
from kb.index.tally import CREDITS
from kb.science.choose.acting import MEDIUM_CHANCE, PAPER_CHANCE, PARTING_SHARE
from kb.science.choose.evidence import (
    CARRIER_TERMS,
    HARM_CONTACT_TERMS,
    STAGE_TERMS,
    harm_prior,
    release_prior,
)
from tests.golden.conftest import HERE, Hold

FROM_BOOK = ("test", "change", "other_record", "kept", "blend", "release_cell", "harm_cell")
"""Tables that follow from the book alone. Those of the catalogue change with every entry of data/, and sums
are vectors over its liquids."""


def _readable(cell: object) -> str:
    return cell.decode("utf-8", "replace") if isinstance(cell, bytes) else str(cell)


def _dump(name: str, rows: Iterable[tuple[object, ...]]) -> str:
    """The table's hash, then its rows in order, one a line."""
    lines = sorted("\t".join(map(_readable, row)) for row in rows)
    digest = sha256("\n".join(lines).encode()).hexdigest()[:16]
    return "\n".join((f"== {name}: {len(lines)} rows, {digest}", *lines, ""))


def test_index_rows(shared_studios: dict[str, Path], hold: Hold) -> None:
    """Each table with its hash and its rows; a hash alone would say that something differs, and not what."""
    for name in ("letters", "demo"):
        studio = Studio(shared_studios[name])
        conn = studio.index.conn
        text = "".join(_dump(table, conn.execute(f'SELECT * FROM "{table}"')) for table in FROM_BOOK)
        studio.close()
        hold(f"{name}/index.rows.txt", text)


def test_a_chance_that_the_index_keeps_changes_with_its_version(hold: Hold) -> None:
    """An index made before a change of rule keeps what the old rule gave; no other test opens such a one."""
    reds, contacts = (None, 0.0, 0.5, 1.0, 1.5, 4.0), tuple(HARM_CONTACT_TERMS)
    harm = [harm_prior(red, term, by) for red in reds for term in (-1.0, 0.0, 1.0) for by in contacts]
    release = [
        release_prior(red, stage, through, by)
        for red in reds
        for stage in STAGE_TERMS
        for through in CARRIER_TERMS
        for by in contacts
    ]
    tables = (harm, release, *CREDITS.items(), PARTING_SHARE, MEDIUM_CHANCE.items(), PAPER_CHANCE.items())
    rules = "".join(f"{' '.join(map(_figure, table))}\n" for table in tables)
    version, _, held = (HERE / "index.rules.txt").read_text(encoding="utf-8").partition("\n")
    if rules != held:
        assert version != f"VERSION {VERSION}", "raise VERSION in kb/index/schema.py, then --golden-update"
    # At each raise, whatever for: else the next change of a rule is measured by a number long gone.
    hold("index.rules.txt", f"VERSION {VERSION}\n{rules}")


def _figure(one: object) -> str:
    return f"{one:.12g}" if isinstance(one, float) else str(one)


def test_index_is_the_same_when_derived_anew(own_letters: Path) -> None:
    """The rows do not depend on whether they came one by one or all at once."""
    studio = Studio(own_letters)
    before = {
        table: sorted(map(repr, studio.index.conn.execute(f'SELECT * FROM "{table}"'))) for table in FROM_BOOK
    }
    studio.close()
    (own_letters / "index.db").unlink()
    studio = Studio(own_letters)
    after = {
        table: sorted(map(repr, studio.index.conn.execute(f'SELECT * FROM "{table}"'))) for table in FROM_BOOK
    }
    studio.close()
    assert before["test"]
    assert after == before


def test_package_files(shared_studios: dict[str, Path], tmp_path: Path, hold: Hold) -> None:
    """The checksum of each file of the package, and the columns of each table."""
    assert main(["--studio", str(shared_studios["letters"]), "export", str(tmp_path / "package")]) == 0
    lines = []
    for file in sorted((tmp_path / "package").rglob("*")):
        name = file.relative_to(tmp_path / "package").as_posix()
        if file.suffix == ".csv":
            with file.open(encoding="utf-8-sig", newline="") as text:
                lines.append(f"{name}: {', '.join(next(csv.reader(text), []))}")
        if file.is_file():
            lines.append(f"{name} {sha256(file.read_bytes()).hexdigest()[:16]}")
    hold("letters/package.txt", "\n".join(lines) + "\n")
