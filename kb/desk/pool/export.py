"""Give away the counts of the own book: how often each grade was given, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.pool.pool import own_id_made
from kb.desk.studio import Studio
from kb.index.pool_file import NotCounts, counts_file, parse, percents, read_bytes, text_of
from kb.index.queries import cells
from kb.model.pool import MOST_TESTS, CountsFile, HarmCount, ReleaseCount
from kb.model.question import Plain
from kb.science.numbers import counted

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
    text: str


class Shipped(NamedTuple):
    """Ids of the shipped catalogue, which every studio knows."""

    liquids: frozenset[str]
    adhesives: frozenset[str]
    stages: frozenset[str]
    carriers: frozenset[str]
    methods: frozenset[str]
    media: frozenset[str]
    papers: frozenset[str]


class _Counting:
    """Rows as they may go out, and what may not."""

    def __init__(self, shipped: Shipped, at_least: int) -> None:
        self.shipped = shipped
        self.at_least = at_least
        self.own_rows = self.own_tests = self.few_rows = self.few_tests = self.rare_rows = 0

    def parts(
        self, ids: tuple[str, ...], known: tuple[frozenset[str], ...], liquid: str, grades: tuple[int, ...]
    ) -> dict[str, float] | None:
        """The liquid's parts in per cent; None if the row stays at home."""
        tests = sum(grades)
        try:
            parts = percents(liquid)
        except ValueError:
            parts = {}
        named = all(one in names for one, names in zip(ids, known, strict=True) if one)
        if not parts or not named or not self.shipped.liquids.issuperset(parts):
            self.own_rows += 1
            self.own_tests += tests
            return None
        if tests < self.at_least:
            self.few_rows += 1
            self.few_tests += tests
            return None
        self.rare_rows += tests < FEW
        return parts


def counts_of(
    studio: Studio, own: str, *, label: str = "", at_least: int = 1
) -> tuple[CountsFile, LeftOut, int]:
    """The counts of the own book under the id ``own``, what stays at home, and how many rows are rare."""
    counting = _Counting(shipped_ids(studio), at_least)
    release = tuple(_release(studio, counting))
    harm = tuple(_harm(studio, counting))
    for rows in (release, harm):
        if sum(sum(row.grades) for row in rows) > MOST_TESTS:
            raise DeskError(
                f"The book holds more than {MOST_TESTS:,} tests, which is more than a file takes."
            )
    left = LeftOut(
        own_rows=counting.own_rows,
        own_tests=counting.own_tests,
        few_rows=counting.few_rows,
        few_tests=counting.few_tests,
    )
    try:
        return counts_file(own, label, release, harm), left, counting.rare_rows
    except NotCounts as error:
        raise DeskError(str(error)) from error


def _release(studio: Studio, counting: _Counting) -> Iterator[ReleaseCount]:
    ids = counting.shipped
    known = (ids.adhesives, ids.stages, ids.carriers, ids.methods)
    for (adhesive, stage, carrier, method, liquid), grades in cells(studio.index.conn, "release_cell"):
        parts = counting.parts((adhesive, stage, carrier, method), known, liquid, grades)
        if parts is not None:
            yield ReleaseCount(adhesive, stage, carrier, method, parts, grades)


def _harm(studio: Studio, counting: _Counting) -> Iterator[HarmCount]:
    ids = counting.shipped
    known = (ids.media, ids.papers, ids.methods)
    for (medium, paper, method, liquid), grades in cells(studio.index.conn, "harm_cell"):
        parts = counting.parts((medium, paper, method), known, liquid, grades)
        if parts is not None:
            yield HarmCount(medium, paper, method, parts, grades)


def shipped_ids(studio: Studio) -> Shipped:
    """Ids that every studio knows. The shipped catalogue is read anew where the studio adds to it."""
    from kb.catalogue.paths import shipped_data, yaml_files

    if not studio.catalogue_dir.is_dir() or not yaml_files(studio.catalogue_dir):
        here = studio.compiled
        return Shipped(
            frozenset(here.by_id),
            frozenset(here.adhesives),
            frozenset(here.stages),
            frozenset(here.carriers),
            frozenset(here.methods),
            frozenset(here.media),
            frozenset(here.papers),
        )
    from kb.catalogue.load import load

    catalogue, _ = load([shipped_data()])
    return Shipped(*(frozenset(catalogue.entries.get(key, {})) for key in Shipped._fields))


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
        release_tests=sum(sum(row.grades) for row in counts.release),
        harm_rows=len(counts.harm),
        harm_tests=sum(sum(row.grades) for row in counts.harm),
        left_out=left,
        rare_rows=rare,
        text="",
    )
    return _with_text(done, at_least)


def _not_over(file: Path, own: str) -> None:
    if not file.exists():
        return
    try:
        if parse(read_bytes(file)).studio == own:
            return
    except NotCounts:
        pass
    raise DeskError(f"{file} is there already and does not hold this studio's counts; choose another name.")


def _with_text(done: Exported, at_least: int) -> Exported:
    from msgspec.structs import replace

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
    return replace(done, text=" ".join(parts))
