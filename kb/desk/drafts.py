"""Forms as they are being filled in, on disk at every letter, so that no end of the program loses them.

They are no records: they live in ``working/``, which is neither shared nor exported, and go when they are
stored or thrown away.
"""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from kb.desk.studio import cache_root
from kb.model.question import Plain

T = TypeVar("T")
LARGEST = 1_000_000
"""Bytes of a draft at most; what is larger was not written by a form."""


class Draft(Plain, frozen=True, kw_only=True):
    """A form that was not stored: what it is about, in words, and the values that the form makes of it."""

    form: str
    says: str
    at: str
    values: Any
    again: Any = None
    """What opens a small form that lay over another screen, where something does."""


def folders(root: Path) -> tuple[Path, ...]:
    """Where drafts of a studio lie, the one that is written to first: none is made for a draft."""
    from hashlib import sha256

    beside = cache_root() / f"drafts-{sha256(os.fsencode(root.absolute())).hexdigest()[:12]}"
    return (root / "working" / "drafts", beside) if root.is_dir() else (beside,)


def keep_draft(root: Path, form: str, says: str, values: Any, again: Any = None) -> None:
    """Put a draft on disk in place of the one before. A disk that cannot take it is no reason to stop typing.

    Whole under another name first, so that a program that is killed leaves the old one or the new one; the
    disk is not waited for, since this happens at every letter.
    """
    at = datetime.now(UTC).isoformat(timespec="seconds")
    made = Draft(form=form, says=says, at=at, values=values, again=again)
    folder = folders(root)[0]
    path = folder / f"{form}.json"
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(".new")
        beside.write_bytes(msgspec.json.encode(made))
        beside.replace(path)


def drop_draft(root: Path, form: str) -> None:
    """It was stored, or thrown away."""
    for folder in folders(root):
        with suppress(OSError):
            (folder / f"{form}.json").unlink(missing_ok=True)


def drafts(root: Path) -> dict[str, Draft]:
    """All drafts by form, the one written last first. What cannot be read is left where it is."""
    found: list[Draft] = []
    for folder in folders(root):
        for path in folder.glob("*.json"):
            with suppress(OSError, msgspec.DecodeError):
                if path.stat().st_size <= LARGEST:
                    found.append(msgspec.json.decode(path.read_bytes(), type=Draft))
    return {one.form: one for one in sorted(found, key=lambda one: one.at, reverse=True)}


def restored(values: Any, kind: type[T]) -> T | None:
    """What a draft makes, or None where an older program wrote it in another shape."""
    if isinstance(values, kind):
        return values
    try:
        return msgspec.convert(values, kind)
    except msgspec.ValidationError:
        return None
