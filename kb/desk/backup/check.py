"""Whether a backup is still what it was when it was made, and putting it back.

What a backup says of itself, in plain words and for somebody who never saw this program.
"""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

import msgspec

from kb.book.kinds.spot_test import HARM_KINDS, HARM_WORDS, RELEASE_WORDS
from kb.book.storage import part_folder, sync_folder, sync_folders
from kb.desk.backup.copy import PHOTO_LIST, PHOTOGRAPHS, STUDIO, Source, copy, digest_of, line_counts
from kb.desk.errors import DeskError
from kb.desk.sharing.book import errors
from kb.index.open import Progress
from kb.model.question import Plain
from kb.science.numbers import counted

OUTSIDE = "restored-photographs"
"""Where photographs that lay outside the studio folder are put, below the name of the backup."""


class About(msgspec.Struct, kw_only=True):
    """backup.json. ``of`` tells the studios apart that are backed up to one folder."""

    studio: str
    of: str
    bench: str
    made_at: str
    records: int
    faults: tuple[str, ...]
    """What was wrong with the book already when it was copied."""
    program: str


class CheckedBackup(Plain, frozen=True, kw_only=True):
    """What was found. ``records`` counts the lines of the book. Empty ``problems``: it is whole."""

    folder: str
    made_at: str
    files: int
    records: int
    problems: tuple[str, ...]


class Restored(Plain, frozen=True, kw_only=True):
    """Where a studio was put, and what is in it."""

    folder: str
    files: int
    records: int


def about(folder: Path) -> About | None:
    """What a backup says of itself; None if that cannot be read."""
    try:
        return msgspec.json.decode((folder / ABOUT).read_bytes(), type=About)
    except (OSError, msgspec.MsgspecError, ValueError):
        return None


def check_backup(folder: Path) -> CheckedBackup:
    """Compare every file with its check sum, and verify the book. Raises DeskError if it is no backup."""
    if not (folder / SUMS).is_file():
        raise DeskError(f"{folder} is no backup: there is no {SUMS} in it. Name one folder of those made.")
    problems: list[str] = []
    listed = read_sums(folder, problems)
    there = _files(folder)
    for name, digest in listed.items():
        problem = _compared(folder, name, digest)
        if problem:
            problems.append(problem)
    problems += [f"{name} is not in the list: it was added later." for name in sorted(there - set(listed))]
    said = about(folder)
    records = book_lines(folder / STUDIO / "book")
    if said is None:
        problems.append(f"{ABOUT} cannot be read.")
    elif records < said.records:
        problems.append(f"The book had {counted(said.records, 'line')} and now has {records}.")
    known = set(said.faults) if said else set()
    problems += [one for one in book_faults(folder / STUDIO / "book") if one not in known]
    made_at = said.made_at if said else ""
    return CheckedBackup(
        folder=str(folder), made_at=made_at, files=len(listed), records=records, problems=tuple(problems)
    )


def _compared(folder: Path, name: str, digest: str) -> str:
    try:
        found = digest_of(folder / name)
    except FileNotFoundError:
        return f"{name} is missing."
    except OSError as error:
        return f"{name} cannot be read ({error.strerror or error})."
    return "" if found == digest else f"{name} is not what it was when the backup was made."


def read_sums(folder: Path, problems: list[str]) -> dict[str, str]:
    """The check sums by name of file. Lines that lead out of the folder or are none become problems."""
    listed: dict[str, str] = {}
    for number, line in enumerate((folder / SUMS).read_bytes().removesuffix(b"\n").split(b"\n"), 1):
        try:
            digest, raw = read_sums_line(line)
        except ValueError:
            problems.append(f"Line {number} of {SUMS} cannot be read.")
            continue
        name = os.fsdecode(raw)
        parts = name.split("/")
        if name.startswith("/") or not set(parts).isdisjoint({"", ".", ".."}) or name == SUMS:
            problems.append(f"Line {number} of {SUMS} names no file of the backup.")
        else:
            listed[name] = digest
    return listed


def _files(folder: Path) -> set[str]:
    """All files but the list itself; names that begin with a dot are other programs' own."""
    found: set[str] = set()
    for here, folders, names in os.walk(folder):
        folders[:] = [one for one in folders if not one.startswith(".")]
        found |= {Path(here, one).relative_to(folder).as_posix() for one in names if not one.startswith(".")}
    return found - {SUMS}


def book_faults(book: Path) -> list[str]:
    return [f"{one.file}: {one.sentence}" for one in errors(book)]


def book_lines(book: Path) -> int:
    return sum(line_counts(book).values())


def restore(folder: Path, into: Path, progress: Progress) -> Restored:
    """Put a backup back as a studio in a new or empty folder; compared before and after.

    Raises DeskError, with nothing changed, if the backup is damaged or the folder is not empty.
    """
    into = into.absolute()
    _want_empty(into)
    progress("Comparing the backup with its check sums")
    found = check_backup(folder)
    if found.problems:
        raise DeskError(
            f"The backup is damaged: {found.problems[0]} Nothing was put back. Copy the folder "
            f"{folder / STUDIO} by hand; what else is wrong in it says: "
            f"benchleaf backup check {shlex.quote(str(folder))}"
        )
    try:
        into.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with part_folder(into.parent, f".{into.name}-") as part:
            progress("Putting it back")
            count = _put_back(folder, part)
            sync_folders(part)
            _want_empty(into)
            part.rename(into)
        sync_folder(into.parent)
    except OSError as error:
        raise DeskError(
            f"The studio cannot be put into {into} ({error.strerror or error}); nothing was changed there, "
            "and the backup is as it was. Make room or choose another folder."
        ) from error
    return Restored(folder=str(into), files=count, records=book_lines(into / "book"))


def _put_back(folder: Path, part: Path) -> int:
    count = 0
    for name, digest in read_sums(folder, []).items():
        if name.startswith(f"{STUDIO}/"):
            target = part / name.removeprefix(f"{STUDIO}/")
        elif name.startswith(PHOTOGRAPHS):
            target = part / OUTSIDE / folder.name / name
        else:
            continue
        made = copy(Source(folder / name, name), target)
        if made is None or made.digest != digest or digest_of(target) != digest:
            raise OSError(0, f"{name} did not come back as it is in the backup")
        count += 1
    return count


def _want_empty(into: Path) -> None:
    if into.is_symlink() or (into.exists() and (not into.is_dir() or any(into.iterdir()))):
        raise DeskError(f"{into} is not an empty folder; nothing was changed. Name a new one.")


README = "README.txt"
SUMS = "SHA256SUMS"
ABOUT = "backup.json"
BELOW = "\n" + 11 * " "


def readme(name: str, made_at: str, records: int, files: int) -> str:
    return f"""\
A COPY OF THE BENCH BOOK AND CATALOGUE OF A PAPER CONSERVATION STUDIO

Name of the studio folder: {name}
Copied at (UTC):           {made_at}
Lines in the bench book:   {records}
Files copied:              {files}

This folder can be read without the program that made it. All that matters is plain text in UTF-8; any text
editor opens it, on any computer.

WHAT IS HERE

studio/book/        the bench book: one file for each bench (workplace), one line for each entry
studio/catalogue/   materials that the studio described itself, as text (YAML)
studio/shelf.yaml   which solvents the studio held, and which were forbidden and why
studio/studio.yaml  name and settings of the studio
studio/working/     notes on work in hand
studio/pool/        counts of tests that other studios gave
studio/...          anything else that lay in the studio folder, photographs above all
photographs/        photographs that entries name and that lay outside the studio folder
{PHOTO_LIST}    every photograph that an entry names: where it is here, and its path in the entry
{SUMS}          a check sum of every file
Some of these may be missing: then there was nothing of that kind.

HOW TO READ THE BENCH BOOK

Each line of a file in studio/book/ is one entry, in a notation called JSON: names in quotation marks, a
colon, and what is said. An entry is never changed. Read the lines of all files together, in the order of id.

  id      name of the entry; entries sort by it in the order of time
  at      when it was written down, in universal time (UTC)
  who     who wrote it
  bench   at which workplace
  kind    test: a spot test. amend: a correction of an earlier entry. withdraw: an earlier entry does not
          count. bottle, batch, reading and other words: what they say.
  body    the entry itself
  prev    a check sum (SHA-256) of the line before it in the same file, without its line end; zeros in the
          first line. If one does not fit, the line before it was altered or lost.

A correction (amend) names the entry in "of", what is to be put in place of what in "set", and the reason in
"why". A withdrawal names the entry in "of". A withdrawal may itself be withdrawn; then it does not count.

In a spot test, "parts" are the liquids by share of volume, "rounds" the applications with their time in
seconds ("dwell_s"), "release" how far the adhesive let go, and "harm" what was seen on the sheet. A kind of
harm that is not named was not looked for: that does not mean that there was none.

  release  {BELOW.join(RELEASE_WORDS)}
  harm     {BELOW.join(HARM_WORDS)}
  kinds of harm: {", ".join(HARM_KINDS)}

HOW TO SEE WHETHER THIS COPY IS WHOLE

Each line of {SUMS} holds the SHA-256 of a file and its name. On many systems this command, given in
this folder, compares all of them:

    sha256sum -c {SUMS}

HOW TO USE IT AGAIN

With the program: benchleaf backup restore THIS-FOLDER --into A-NEW-FOLDER
Without it: copy the folder studio to wherever it is wanted. Nothing else is needed.
"""


def sums_line(digest: str, name: bytes) -> bytes:
    """One line as ``sha256sum`` writes and reads it. Odd names are marked by a backslash in front."""
    escaped = name.replace(b"\\", b"\\\\").replace(b"\n", b"\\n").replace(b"\r", b"\\r")
    mark = b"\\" if escaped != name else b""
    return mark + digest.encode() + b"  " + escaped + b"\n"


def read_sums_line(line: bytes) -> tuple[str, bytes]:
    """Check sum and name of a file. Raises ValueError if the line is no such line."""
    found = re.fullmatch(rb"(\\?)([0-9a-f]{64})  (.+)", line, re.DOTALL)
    if found is None:
        raise ValueError("no line of check sums")
    marked, digest, name = found.groups()
    if marked:
        # One pass, so that a backslash that stands for itself is not read twice.
        meant = {b"\\": b"\\", b"n": b"\n", b"r": b"\r"}
        name = re.sub(rb"\\([\\nr])", lambda escape: meant[escape[1]], name)
    return digest.decode(), name
