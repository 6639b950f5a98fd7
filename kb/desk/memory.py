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
from kb.catalogue.yaml_reader import parse, read
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
    backups: str = ""
    """The folder that the last backup went to."""
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


_VALUE = r"""[ \t]*(?:"(?:[^"\\]|\\.)*"|'(?:[^']|'')*'|[^"'\s#][^\r\n]*?)?"""
_BEHIND = r"([ \t]+#[^\r\n]*)?[ \t]*\r?$"
"""A value of one line, and the comment behind it: a # within quotes or within a word begins none."""


def set_line(studio: Studio, key: str, value: str) -> None:
    """Set one line of studio.yaml, which is made if it is not there; comments and other lines stay.

    An empty value takes the line out; a comment behind it then stands alone. Raises DeskError for a key that
    is not set here, a file that cannot be written, and one that does not read or would not any more, which
    stays as it is.
    """
    if key not in SETTABLE:
        raise DeskError(f"{key} is not set here; write it into {studio.settings_file.name} by hand.")
    if key == "authority" and value:
        from kb.desk.materials.limits import authority_of

        value = authority_of(studio, value)
    studio.make()
    file = studio.settings_file
    if not (before := read(file)).is_sound:
        wrong = before.faults[0].told(file.name, before.lines)
        raise DeskError(f"{wrong} Mend {file.name} first; nothing in it was changed.")
    try:
        # From bytes: the ends of lines stay what they are.
        text = file.read_bytes().decode("utf-8-sig")
        end = "\r\n" if "\r\n" in text else "\n"
        here = re.search(rf"^{key}:.*\n?", text, re.M)
        behind = re.match(rf"{key}:{_VALUE}{_BEHIND}", here[0]) if here else None
        remark = (behind[1] or "") if behind else ""
        line = f"{key}: {msgspec.json.encode(value).decode()}{remark}" if value else remark.strip()
        put = line and f"{line}{end}"
        # The commented example of the file gives way to the line itself, unless that stands elsewhere.
        found = here or re.search(rf"^# *{key}:.*\n?", text, re.M)
        text = text[: found.start()] + put + text[found.end() :] if found else f"{text.rstrip()}{end}{put}"
        now = parse(text)
        others = [{name: one for name, one in some.value.items() if name != key} for some in (before, now)]
        if not now.is_sound or bool(now.value.get(key)) != bool(value) or others[0] != others[1]:
            raise DeskError(f"{key} is written in {file.name} so that it cannot be set here; do it by hand.")
        # A link is followed, so that settings kept elsewhere stay there.
        put_whole(file.resolve(), text.encode())
    except OSError as error:
        raise DeskError(f"{file.name} cannot be written ({error.strerror}).") from error
    studio.close()
