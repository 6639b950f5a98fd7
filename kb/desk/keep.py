"""Look after the records: check the catalogue, verify the book, derive the index anew."""

from __future__ import annotations

import msgspec

from kb.book import seen
from kb.book.verify import verify as verify_book
from kb.desk.studio import Studio
from kb.index.open import Progress, silent
from kb.index.queries import count_tests
from kb.model.question import Plain
from kb.science.numbers import percent


class Finding(Plain, frozen=True, kw_only=True):
    """Something wrong with the book: file, line, what it is, in one sentence."""

    file: str
    line: int
    kind: str
    severity: str
    text: str


class Checked(Plain, frozen=True, kw_only=True):
    """Result of checking the catalogue."""

    entries: dict[str, int]
    figures: dict[str, int]
    problems: tuple[str, ...]
    memory: dict[str, tuple[int, int, int]]
    """By kind, and by group of the figures that matter most: how many there are, how many rest on memory
    with the first source they name, and how many with any."""
    weighty: dict[str, tuple[int, int, int]]
    listed: tuple[tuple[str, str, str, str], ...]
    """The figures that matter most: group, entry, place in it, what its sources rest on."""


def verify(studio: Studio, progress: Progress = silent) -> list[Finding]:
    """Walk the hash chain of every book file, in file and line order.

    What was seen of the files before shows lines that were lost or altered at their very end, which the
    chain alone cannot. What ``progress`` raises ends the walk; nothing is written by it.
    """
    tips = {
        name: tuple((mark.lines, mark.sha) for mark in marks)
        for name, marks in seen.marks_of(studio.root).items()
    }
    chain = [
        Finding.taken_from(one, line=one.line_number, text=one.sentence)
        for one in verify_book(
            studio.book_dir, tips=tips, watch=lambda share: progress(f"Checking the book, {percent(share)}")
        )
    ]
    return chain + _photographs(studio)


def _photographs(studio: Studio) -> list[Finding]:
    """Photographs that records name and that are gone or changed. The book itself is whole without them."""
    from kb.desk.backup.copy import named_photographs
    from kb.desk.records.photographs import lost

    return [
        Finding(
            file=one.path,
            line=0,
            kind="photograph-changed" if one.changed else "photograph-missing",
            severity="warning",
            text=f"The photograph with SHA-256 {one.sha256[:12]} "
            + ("is another picture by now." if one.changed else "is not on this machine."),
        )
        for one in lost(studio.root, named_photographs(studio.book_dir))
    ]


def accept(studio: Studio) -> list[str]:
    """Forget what the book once held and holds no longer; names of the files of which that is forgotten."""
    return seen.accept(studio.root, studio.book_dir)


def check(studio: Studio) -> Checked:
    """Read all YAML afresh and report every problem with file and line, and what of the pool is left out."""
    from kb.catalogue.load import load
    from kb.catalogue.own_files import read_settings, read_shelf_file
    from kb.catalogue.summary import summary
    from kb.desk.pool.pool import pool_dir
    from kb.desk.pool.words import left_out_words
    from kb.index.pool_queries import read_weights

    catalogue, found = load(studio.catalogue_folders)
    settings, setting_problems = read_settings(studio.settings_file)
    if settings.authority:
        from kb.desk.materials.limits import resolve_authority
        from kb.model.protection import Authority

        known = catalogue.of("authorities", Authority).values()
        _, problem = resolve_authority(settings.authority, known)
        setting_problems += [problem] if problem else []
    _, shelf_problems = read_shelf_file(studio.shelf_file, catalogue.entries)
    counted = summary(catalogue)
    return Checked(
        entries=dict(counted.entries),
        figures=dict(counted.by_basis),
        problems=(
            *(str(problem) for problem in found),
            *setting_problems,
            *shelf_problems,
            *read_weights(pool_dir(studio))[1],
            *left_out_words(studio),
        ),
        memory={key: msgspec.structs.astuple(one) for key, one in counted.memory.items()},
        weighty={key: msgspec.structs.astuple(one) for key, one in counted.weighty.items()},
        listed=tuple((one.group, one.entry, one.place, ", ".join(one.on)) for one in counted.listed),
    )


def rebuild(studio: Studio, progress: Progress | None = None) -> int:
    """Derive the index anew, in place of the one that is there; returns the number of tests in it.

    What ``progress`` raises ends it, and the index stays as it was. Without one the studio's own is told.
    """
    studio.derive_anew(progress)
    return count_tests(studio.index.conn)[0]
