"""What the program remembers of one bench: how the screen looks, and the sheet it was last about.

Who writes and whose limits come first stand in studio.yaml, because records and answers depend on them; this
is only for the eyes, and lies in ``working/``.
"""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

import msgspec

from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.model.question import Plain

FILE = "screen.json"


class Memory(Plain, frozen=True, kw_only=True):
    """Every field has a default, so a file of an older program is read as well."""

    theme: str = ""
    gloves: bool = False
    """Fewer and larger aims, for hands in gloves."""
    sheet: str = ""
    """The sheet that was last looked at."""
    welcomed: bool = False
    """What there is to do was offered once."""
    asked_who: bool = False
    """Who writes was asked, and may have been left open."""


def memory(root: Path) -> Memory:
    """What is remembered; the defaults where nothing is, or where it cannot be read."""
    with suppress(OSError, msgspec.DecodeError):
        return msgspec.json.decode((root / "working" / FILE).read_bytes(), type=Memory)
    return Memory()


def remember(root: Path, **changes: object) -> Memory:
    """Change what is remembered. Nothing is written for a studio that is not made yet."""
    now = msgspec.structs.replace(memory(root), **changes)
    if root.is_dir():
        with suppress(OSError):
            put_whole(root / "working" / FILE, msgspec.json.encode(now))
    return now


SETTABLE = ("who", "bench", "authority", "name")
"""Lines of studio.yaml that the program writes itself; all else in the file stays as it is."""


def set_line(studio: Studio, key: str, value: str) -> None:
    """Set one line of studio.yaml, which is made if it is not there; comments and other lines stay.

    An empty value takes the line out. Raises DeskError for a key that is not set here, or a file that cannot
    be written.
    """
    if key not in SETTABLE:
        raise DeskError(f"{key} is not set here; write it into {studio.settings_file.name} by hand.")
    if key == "authority" and value:
        from kb.desk.materials.limits import authority_of

        value = authority_of(studio, value)
    studio.make()
    try:
        text = studio.settings_file.read_text("utf-8")
        line = f"{key}: {msgspec.json.encode(value).decode()}" if value else ""
        there = re.compile(rf"^(# *)?{key}:.*\n?", re.M)
        # The commented example of the file gives way to the line itself.
        found = there.search(text)
        put = f"{line}\n" if line else ""
        text = text[: found.start()] + put + text[found.end() :] if found else f"{text.rstrip()}\n{put}"
        put_whole(studio.settings_file, text.encode())
    except OSError as error:
        raise DeskError(f"{studio.settings_file.name} cannot be written ({error.strerror}).") from error
    studio.close()
