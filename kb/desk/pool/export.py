"""Give away the counts of the own book: how often each grade was given, and nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import msgspec

from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.pool.pool import own_id_made, tests_of
from kb.desk.studio import Studio
from kb.index.pool_file import (
    MOST_TESTS,
    CountsFile,
    HarmCount,
    NotCounts,
    ReleaseCount,
    counts_file,
    parse,
    percents,
    read_bytes,
    text_of,
)
from kb.index.queries import cells
from kb.model.question import Plain
from kb.science.numbers import counted

_Row = TypeVar("_Row", ReleaseCount, HarmCount)
FEW = 3
"""Rows with fewer tests than this are told of: a rare combination can point to one object."""


class LeftOut(Plain, frozen=True, kw_only=True):
    """What stayed at home, in rows of the counts and in tests."""

    own_rows: int = 0
    own_tests: int = 0
    """Of what only this studio's own catalogue knows, or no catalogue at all."""
    few_rows: int = 0
    few_tests: int = 0
    """Of rows with fewer tests than were asked for."""


class Exported(Plain, frozen=True, kw_only=True):
    """What was written: rows and tests of both kinds, what was left out, and how many rows are rare."""

    file: str
    studio: str
    label: str
    release_rows: int
    release_tests: int
    harm_rows: int
    harm_tests: int
    left_out: LeftOut
    rare_rows: int
    text: str = ""


Shipped = dict[str, frozenset[str]]
"""Ids of the shipped catalogue, which every studio knows, by the key of their kind."""
_RELEASE = ("adhesives", "stages", "carriers", "methods")
_HARM = ("media", "papers", "methods")
"""The kinds whose ids name a row, in their order."""


class _Counting:
    """Rows as they may go out, and what may not."""

    def __init__(self, studio: Studio, at_least: int) -> None:
        self._conn = studio.index.conn
        self._shipped = shipped_ids(studio)
        self._at_least = at_least
        self.rare_rows = 0
        self.left_out: Counter[str] = Counter()

    def rows(self, table: str, row: Callable[..., _Row], kinds: Sequence[str]) -> tuple[_Row, ...]:
        """The cells of a table of the index as rows that may go out, liquids as parts in per cent."""
        known = [self._shipped[kind] for kind in kinds]
        found = []
        for (*ids, liquid), grades in cells(self._conn, table):
            try:
                parts = percents(liquid)
            except ValueError:
                parts = {}
            named = all(one in names for one, names in zip(ids, known, strict=True) if one)
            tests = sum(grades)
            if not parts or not named or not self._shipped["liquids"].issuperset(parts):
                self.left_out.update(own_rows=1, own_tests=tests)
            elif tests < self._at_least:
                self.left_out.update(few_rows=1, few_tests=tests)
            else:
                self.rare_rows += tests < FEW
                found.append(row(*ids, parts, grades))
        if tests_of(found) > MOST_TESTS:
            raise DeskError(
                f"The book holds more than {MOST_TESTS:,} tests, which is more than a file takes."
            )
        return tuple(found)


def counts_of(
    studio: Studio, own: str, *, label: str = "", at_least: int = 1
) -> tuple[CountsFile, LeftOut, int]:
    """The counts of the own book under the id ``own``, what stays at home, and how many rows are rare."""
    counting = _Counting(studio, at_least)
    release = counting.rows("release_cell", ReleaseCount, _RELEASE)
    harm = counting.rows("harm_cell", HarmCount, _HARM)
    try:
        counts = counts_file(own, label, release, harm)
    except NotCounts as error:
        raise DeskError(str(error)) from error
    return counts, LeftOut(**counting.left_out), counting.rare_rows


def shipped_ids(studio: Studio) -> Shipped:
    """Ids that every studio knows. The shipped catalogue is read anew where the studio adds to it."""
    from kb.catalogue.paths import shipped_data, yaml_files

    kinds = {*_RELEASE, *_HARM}
    if not yaml_files(studio.catalogue_dir):
        here = studio.compiled
        return {"liquids": frozenset(here.by_id), **{kind: frozenset(getattr(here, kind)) for kind in kinds}}
    from kb.catalogue.load import load

    catalogue, _ = load([shipped_data()])
    return {kind: frozenset(catalogue.entries.get(kind, {})) for kind in ("liquids", *kinds)}


def export(studio: Studio, file: Path, *, label: str = "", at_least: int = 1) -> Exported:
    """Write the counts of the own book to a file. Raises DeskError; then no file was written or changed.

    A file that is there already is replaced only if it holds this studio's counts.
    """
    if at_least < 1:
        raise DeskError(f"Rows need at least 1 test, not {at_least}.")
    own = own_id_made(studio)
    counts, left, rare = counts_of(studio, own, label=label, at_least=at_least)
    _not_over(file, own)
    if not file.absolute().parent.is_dir():
        # A misspelt folder must not be made: the counts would lie where nobody looks for them.
        raise DeskError(f"{file} cannot be written (there is no such folder); name one that is there.")
    try:
        put_whole(file, text_of(counts))
    except OSError as error:
        raise DeskError(f"{file} cannot be written ({error.strerror or error}).") from error
    done = Exported(
        file=str(file),
        studio=own,
        label=counts.label,
        release_rows=len(counts.release),
        release_tests=tests_of(counts.release),
        harm_rows=len(counts.harm),
        harm_tests=tests_of(counts.harm),
        left_out=left,
        rare_rows=rare,
    )
    return msgspec.structs.replace(done, text=_words(done, at_least))


def _not_over(file: Path, own: str) -> None:
    if not file.exists():
        return
    try:
        if parse(read_bytes(file)).studio == own:
            return
    except NotCounts:
        pass
    raise DeskError(f"{file} is there already and does not hold this studio's counts; choose another name.")


def _words(done: Exported, at_least: int) -> str:
    left = done.left_out
    parts = [
        f"Written: {counted(done.release_tests, 'test')} of release in {counted(done.release_rows, 'row')}, "
        f"{counted(done.harm_tests, 'look')} for harm in {counted(done.harm_rows, 'row')}. No sheets, "
        "people, dates, batches or remarks are in it."
    ]
    if left.own_rows:
        parts.append(
            f"Left out: {counted(left.own_rows, 'row')} with {counted(left.own_tests, 'count')} of what only "
            "this studio's catalogue knows, or no catalogue."
        )
    if left.few_rows:
        parts.append(
            f"Left out: {counted(left.few_rows, 'row')} of fewer than {at_least} tests, "
            f"{counted(left.few_tests, 'count')} in all."
        )
    if done.rare_rows:
        parts.append(
            f"Mind: fewer than {FEW} tests stand in {counted(done.rare_rows, 'row')}. A rare combination of "
            f"tape, medium and paper can point to one object; --at-least {FEW} leaves such rows out."
        )
    return " ".join(parts)
