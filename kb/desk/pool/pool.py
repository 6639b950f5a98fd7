"""The pool: counts of other studios, how much each weighs, and what to mind."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

from kb.book.storage import locked_folder, make_folder, put_whole, sync_folder
from kb.book.text import clean_text
from kb.desk.errors import DeskError
from kb.desk.pool.words import MOSTLY_ONE, UNNAMED
from kb.desk.studio import Studio
from kb.index.pool_file import (
    MOST_STUDIOS,
    STUDIO_ID,
    CountsFile,
    HarmCount,
    NotCounts,
    ReleaseCount,
    counts_file,
    parse,
    read_bytes,
    text_of,
)
from kb.index.pool_queries import OWN_ID, THOUSAND, WEIGHTS, blends_counted, pool_files, read_weights
from kb.index.pool_rows import MOST_BLENDS, UNKNOWN_SHOWN, Known, known_studios
from kb.model.question import Plain
from kb.science.numbers import counted, percent

LEAST_PREFIX = 4
WAIT_S = 10.0
HEADER = """\
# Weight of each studio in the pool: 0 (does not count) to 1 (counts in full). One that is not named here
# counts in full. "benchleaf pool weigh" rewrites this file.
"""
NOTHING = "Nothing was changed."


class Added(Plain, frozen=True, kw_only=True):
    """What became of one file: ``added``, ``replaced``, ``unchanged`` or ``refused``, in a sentence too."""

    file: str
    result: str
    studio: str
    text: str


class InPool(Plain, frozen=True, kw_only=True):
    """One studio of the pool.

    ``share`` is its part of all counts that enter answers (tests of release and looks for harm together,
    weight left aside); ``not_counted`` are counts that do not, for an unknown id or a blend that few
    studios tested. ``problem`` says why nothing of it is counted.
    """

    studio: str
    label: str
    weight: float
    added: str
    rows: int
    release_tests: int
    harm_tests: int
    share: float
    not_counted: int
    unknown: tuple[str, ...]
    problem: str

    @property
    def name(self) -> str:
        return self.label or UNNAMED


class PoolView(Plain, frozen=True, kw_only=True):
    """The pool as it stands. ``warnings`` are sentences; ``blends`` are counted, of ``blends_known``."""

    studios: tuple[InPool, ...]
    blends: int
    blends_known: int
    warnings: tuple[str, ...]


class PoolChanged(Plain, frozen=True, kw_only=True):
    """What a change of the pool did, in a sentence."""

    studio: str
    changed: bool
    text: str


def view(studio: Studio) -> PoolView:
    """All studios in the pool, the largest share first, with what is wrong and what to mind."""
    conn = studio.index.conn
    known = known_studios(conn)
    total = sum(one.counted for one in known)
    studios = sorted((_shown(one, total) for one in known), key=lambda one: (-one.share, one.studio))
    blends, blends_known = blends_counted(conn)
    warnings = list(read_weights(pool_dir(studio))[1])
    if studios and studios[0].share > MOSTLY_ONE:
        first = studios[0]
        warnings.append(
            f"{percent(first.share)} of the pooled counts come from one studio ({first.name}): what the "
            "pool says is mostly its experience. Its weight can be lowered."
        )
    if blends < blends_known:
        warnings.append(
            f"Of {blends_known:,} blends the {blends} that most studios tested are counted (at most "
            f"{MOST_BLENDS})."
        )
    return PoolView(
        studios=tuple(studios), blends=blends, blends_known=blends_known, warnings=tuple(warnings)
    )


def _shown(one: Known, total: int) -> InPool:
    return InPool.taken_from(
        one,
        weight=one.weight / THOUSAND,
        share=one.counted / total if total else 0.0,
        not_counted=one.release_tests + one.harm_tests - one.counted,
        unknown=tuple(json.loads(one.unknown)),
    )


def add(studio: Studio, files: Sequence[Path], today: date) -> list[Added]:
    """Check each file and take it into the pool whole, or refuse it whole with a sentence.

    A studio that is in the pool already is replaced by what is added later.
    """
    own = own_id(studio)
    done = []
    with changing(studio) as folder:
        there = {one.studio for one in pool_files(folder)}
        for file in files:
            try:
                counts = parse(read_bytes(file))
                _fit(counts, own, there)
                done.append(_put_in(folder, file, counts, today, known=counts.studio in there))
                there.add(counts.studio)
            except NotCounts as error:
                text = f"{file.name} was not added. {error} {NOTHING}"
                done.append(Added(file=str(file), result="refused", studio="", text=text))
    return done


def _fit(counts: CountsFile, own: str, there: set[str]) -> None:
    if counts.studio == own:
        raise NotCounts("It was exported here: these tests are in your own book already.")
    if counts.studio not in there and len(there) >= MOST_STUDIOS:
        raise NotCounts(f"The pool holds {MOST_STUDIOS:,} studios already.")
    if not counts.release and not counts.harm:
        raise NotCounts("It holds no counts.")


def _put_in(folder: Path, file: Path, counts: CountsFile, today: date, *, known: bool) -> Added:
    """Write the file anew from what was understood of it, under its id and nothing else of its content."""
    fresh = counts_file(counts.studio, counts.label, counts.release, counts.harm, today.isoformat())
    path, name = folder / f"{counts.studio}.json", fresh.label or UNNAMED
    held = held_words(tests_of(counts.release), tests_of(counts.harm))
    old = None
    with suppress(NotCounts):
        old = parse(read_bytes(path)) if known else None
    if old is not None and old.checksum == fresh.checksum:
        result, text = "unchanged", f"{name} is in the pool already, with the same counts."
    elif known:
        before = f", which held {counted(tests_of(old.release), 'test')} of release" if old else ""
        added = f" of {old.added}" if old and old.added else ""
        result, text = "replaced", f"Replaced: {name}, now {held}, in place of the file{added}{before}."
    else:
        result, text = "added", f"Added: {name}, {held}."
    if result != "unchanged":
        put_whole(path, text_of(fresh))
    return Added(file=str(file), result=result, studio=counts.studio, text=text)


def weigh(studio: Studio, which: str, weight: float) -> PoolChanged:
    """Let a studio count with this weight from 0 to 1. Raises DeskError."""
    if not 0 <= weight <= 1:
        raise DeskError(f"A weight lies from 0 (does not count) to 1 (counts in full), not at {weight:g}.")
    one = find(studio, which)
    new = round(weight * THOUSAND)
    if round(one.weight * THOUSAND) == new:
        return PoolChanged(studio=one.studio, changed=False, text=f"{one.name} weighs {weight:g} already.")
    with changing(studio) as folder:
        _write_weight(studio, folder, one.studio, new)
    said = "does not count any more" if new == 0 else f"counts with weight {new / THOUSAND:g}"
    return PoolChanged(
        studio=one.studio, changed=True, text=f"{one.name} {said}; it was {one.weight:g} before."
    )


def drop(studio: Studio, which: str) -> PoolChanged:
    """Take a studio out of the pool, file and weight. Raises DeskError."""
    one = find(studio, which)
    with changing(studio) as folder:
        # First, for it refuses a file that it cannot read; but a file that stays keeps its weight.
        _weights(folder)
        (folder / f"{one.studio}.json").unlink(missing_ok=True)
        _write_weight(studio, folder, one.studio, THOUSAND)
    return PoolChanged(
        studio=one.studio, changed=True, text=f"{one.name} is out of the pool. Its file can be added again."
    )


def find(studio: Studio, which: str) -> InPool:
    """The studio that an id, its beginning or a whole label names. Raises DeskError."""
    studios = view(studio).studios
    word = which.strip()
    start = word.lower()
    found = [one for one in studios if one.studio == start] or [
        one
        for one in studios
        if (len(start) >= LEAST_PREFIX and one.studio.startswith(start))
        or (one.label and one.label.casefold() == word.casefold())
    ]
    if len(found) == 1:
        return found[0]
    shown = clean_text(word[:80].encode(errors="replace").decode(), multiline=False)
    if found:
        named = "; ".join(f"{one.studio[:8]} ({one.name})" for one in found[:5])
        raise DeskError(f'"{shown}" fits several studios: {named}. Give more of the id.')
    raise DeskError(f'No studio of the pool is named "{shown}"; the list of the pool names them all.')


def tests_of(rows: Sequence[ReleaseCount | HarmCount]) -> int:
    return sum(sum(row.grades) for row in rows)


def held_words(tests: int, looks: int) -> str:
    """``41 tests of release and 12 looks for harm``."""
    return f"{counted(tests, 'test')} of release and {counted(looks, 'look')} for harm"


def unknown_words(one: InPool) -> str:
    """What of a studio's file is not known here; empty if all is."""
    if not one.unknown:
        return ""
    more = " and more" if len(one.unknown) >= UNKNOWN_SHOWN else ""
    return f"not known here, so not counted: {', '.join(one.unknown)}{more}"


# -- the folder in the studio: counts files by the random id of their studio, and the weights --------


def pool_dir(studio: Studio) -> Path:
    return studio.root / "pool"


@contextmanager
def changing(studio: Studio) -> Iterator[Path]:
    """The folder, made if need be, while no other program changes it. OSError becomes a DeskError."""
    studio.make()
    folder = pool_dir(studio)
    try:
        make_folder(folder)
        with locked_folder(folder, WAIT_S):
            yield folder
            sync_folder(folder)
    except OSError as error:
        why = error.strerror or error
        raise DeskError(f"The pool's folder {folder} cannot be written ({why}). {NOTHING}") from error
    finally:
        studio.mark_stale()


def own_id(studio: Studio) -> str:
    """The random id of this studio's counts; empty if it never exported any. Raises DeskError."""
    path = pool_dir(studio) / OWN_ID
    try:
        said = json.loads(path.read_bytes())
    except FileNotFoundError:
        return ""
    except (OSError, ValueError) as error:
        raise DeskError(f"{path} cannot be read ({error}). Bring it back from a backup.") from error
    found = said.get("studio") if isinstance(said, dict) else None
    if not isinstance(found, str) or STUDIO_ID.fullmatch(found) is None:
        raise DeskError(f"{path} does not name this studio's id. Bring it back from a backup.")
    return found


def own_id_made(studio: Studio) -> str:
    """The same, made if there is none yet. It is random and says nothing of the studio."""
    if found := own_id(studio):
        return found
    with changing(studio) as folder:
        # Looked for once more: another program may have made it meanwhile.
        if not (found := own_id(studio)):
            from secrets import token_hex

            found = token_hex(16)
            put_whole(folder / OWN_ID, json.dumps({"studio": found}).encode() + b"\n")
    return found


def _weights(folder: Path) -> dict[str, int]:
    """Weights by studio, in thousandths. Raises DeskError if a line could be lost in writing them."""
    weights, problems = read_weights(folder)
    if problems:
        raise DeskError(f"{problems[0]} Mend this first. {NOTHING}")
    return weights


def _write_weight(studio: Studio, folder: Path, of: str, weight: int) -> None:
    """Set the weight of a studio, in thousandths. Raises DeskError if a line could be lost."""
    weights = _weights(folder)
    labels = {known.studio: known.label for known in view(studio).studios}
    lines = [
        f"{one}: {weight / THOUSAND:g}" + (f"  # {labels[one]}" if labels.get(one) else "")
        for one, weight in sorted({**weights, of: weight}.items())
        if weight != THOUSAND
    ]
    path = folder / WEIGHTS
    if lines:
        put_whole(path, (HEADER + "\n".join(lines) + "\n").encode())
    else:
        path.unlink(missing_ok=True)
