"""Two people changed one file of the catalogue or the shelf: made into one where what it says allows that.

Lines are put together by git, or entry by entry, as lines of text. Whether they then say what both people
meant is looked up here: the file that comes out must hold exactly the entries that follow from both changes,
else it is left to the people.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import msgspec

from kb.catalogue.problems import quoted
from kb.catalogue.yaml_reader import parse
from kb.desk.sharing.git import Git
from kb.desk.sharing.tree import SHELF
from kb.model.question import Plain
from kb.model.studio import Forbidden, Shelf

Key = tuple[str, str]


class _Block(NamedTuple):
    """The lines of one entry, from the comments above it to the line before the next."""

    start: int
    end: int
    lines: tuple[str, ...]
    value: Any


class _File(NamedTuple):
    lines: list[str]
    blocks: dict[Key, _Block]
    ends: dict[str, int]
    """Where the list of each kind ends."""


def id_of(item: Any, number: int) -> str:
    """What an entry of a list is known by: its id, else its place."""
    id = str(item.get("id", "")) if isinstance(item, dict) else ""
    return id or f"number {number + 1}"


def spliced(base: bytes, ours: bytes, theirs: bytes) -> bytes:
    """Their file with the entries added, changed or taken out here.

    It works on lines, so a file with several entries on one line comes out wrong: whoever calls looks at
    what the result says.
    """
    before, here, there = (_file(one) for one in (base, ours, theirs))
    edits: list[tuple[int, int, tuple[str, ...]]] = []
    new: list[tuple[str, tuple[str, ...]]] = []
    for key, block in here.blocks.items():
        if key in before.blocks and before.blocks[key].value == block.value:
            continue
        if key in there.blocks:
            edits.append((there.blocks[key].start, there.blocks[key].end, block.lines))
        elif key[0] in there.ends:
            edits.append((there.ends[key[0]], there.ends[key[0]], block.lines))
        else:
            new.append((key[0], block.lines))
    gone = [there.blocks[key] for key in before.blocks if key not in here.blocks and key in there.blocks]
    edits += [(block.start, block.end, ()) for block in gone]
    lines = list(there.lines)
    # From the end on, so that the places before stay right.
    edits.sort(key=lambda edit: edit[0])
    for start, end, text in reversed(edits):
        lines[start:end] = text
    for kind in dict.fromkeys(kind for kind, _ in new):
        lines += [f"{kind}:", *(line for other, text in new if other == kind for line in text)]
    return ("\n".join(lines) + "\n").encode()


def _file(content: bytes) -> _File:
    text = content.decode("utf-8-sig", errors="replace")
    document, lines = parse(text), text.splitlines()
    starts = sorted(line - 1 for at, line in document.lines.items() if len(at) == 1)
    blocks: dict[Key, _Block] = {}
    ends: dict[str, int] = {}
    for kind, items in document.value.items():
        top = document.lines[kind,] - 1
        last = next((line for line in starts if line > top), len(lines))
        last = _above(lines, last, top)
        if not isinstance(items, list):
            continue
        ends[kind] = last
        firsts = [_above(lines, document.lines[kind, number] - 1, top) for number in range(len(items))]
        for number, item in enumerate(items):
            first, end = firsts[number], [*firsts, last][number + 1]
            blocks[kind, id_of(item, number)] = _Block(first, end, tuple(lines[first:end]), item)
    return _File(lines, blocks, ends)


def _above(lines: list[str], line: int, top: int) -> int:
    """Where the comments begin that stand right above a line."""
    while line - 1 > top and lines[line - 1].lstrip().startswith("#"):
        line -= 1
    return line


Said = dict[tuple[str, str], Any]
"""What a file says: entries by kind and id."""
_MISSING = object()


class Difference(Plain, frozen=True, kw_only=True):
    """One point on which two versions of a file differ. ``here`` and ``there`` are values as JSON.

    ``kind`` and ``id`` name the entry, ``field`` the place in it; empty where the file as a whole, or the
    entry as a whole, differs. A value is empty where there is none.
    """

    file: str
    kind: str
    id: str
    field: str
    here: str
    there: str

    @property
    def text(self) -> str:
        what = "/".join(filter(None, (self.kind, self.id))) or "the file"
        if self.field:
            here, there = (quoted(one, 80) if one else "nothing" for one in (self.here, self.there))
            return f"{self.file}: {what}, {self.field}: {here} here, {there} there"
        if bool(self.here) != bool(self.there):
            return f"{self.file}: {what} stands only {'here' if self.here else 'there'}"
        return f"{self.file}: {what} differs"


_Forms = tuple[bytes, bytes, bytes]
"""A file as it was, as it is here and as others shared it."""


def merged(git: Git, path: str, base: bytes, ours: bytes, theirs: bytes) -> bytes | None:
    """The file with both changes in it, or None if they contradict each other.

    The lines of git if they say so; else entry by entry, and a shelf written anew from theirs.
    """
    forms, is_shelf = (base, ours, theirs), path == SHELF
    said = [_said(path, one) for one in forms]
    if any(one is None for one in said):
        return None if is_shelf else next(iter(_put_together(git, forms)), None)
    before, here, there = (one or {} for one in said)
    want = three_way(before, here, there)
    if want is None:
        return None
    together, union = _put_together(git, forms), _put_together(git, forms, "--union")
    candidates = (*together, ours, theirs, *(() if is_shelf else (spliced(*forms),)), *union)
    found = next((one for one in candidates if _said(path, one) == want), None)
    return _written(theirs, want) if found is None and is_shelf else found


def _said(path: str, text: bytes) -> Said | None:
    return _shelf_said(text) if path == SHELF else entries(text)


def three_way(base: Said, ours: Said, theirs: Said) -> Said | None:
    """What follows from two changes of the same; None if both changed one thing in two ways."""
    made: Said = {}
    for key in dict.fromkeys((*theirs, *ours)):
        was, here, there = (one.get(key, _MISSING) for one in (base, ours, theirs))
        if there in (here, was):
            now = here
        elif here == was:
            now = there
        elif isinstance(was, dict) and isinstance(here, dict) and isinstance(there, dict):
            now = three_way(was, here, there)
            if now is None:
                return None
        else:
            return None
        if now is not _MISSING:
            made[key] = now
    return made


def entries(text: bytes) -> Said | None:
    """What a catalogue file says: each entry by kind and id, all else by its key. None: unreadable."""
    try:
        document = parse(text.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return None
    if document.faults:
        # An empty file says nothing, which is no fault here.
        return None if document.value or _lines(text) else {}
    found: Said = {}
    for kind, items in document.value.items():
        if not isinstance(items, list):
            found[kind, ""] = items
            continue
        for number, item in enumerate(items):
            key = (kind, id_of(item, number))
            if key in found:
                return None
            found[key] = item
    return found


def differences(path: str, ours: bytes, theirs: bytes) -> list[Difference]:
    """Where two versions of a file differ, in the order of the file that is here."""
    here, there = (_said(path, one) for one in (ours, theirs))
    if here is None or there is None:
        return [Difference(file=path, kind="", id="", field="", here="unread", there="unread")]
    found: list[Difference] = []
    for kind, id in dict.fromkeys((*here, *there)):
        one, other = here.get((kind, id), _MISSING), there.get((kind, id), _MISSING)
        if one == other:
            continue
        for field, a, b in _fields(one, other):
            found.append(Difference(file=path, kind=kind, id=id, field=field, here=a, there=b))
    return found or [Difference(file=path, kind="", id="", field="", here="order", there="order")]


def _fields(one: Any, other: Any) -> Iterator[tuple[str, str, str]]:
    if not isinstance(one, dict) or not isinstance(other, dict):
        yield "", _shown(one), _shown(other)
        return
    for key in dict.fromkeys((*one, *other)):
        a, b = one.get(key, _MISSING), other.get(key, _MISSING)
        if a == b:
            continue
        if isinstance(a, dict) and isinstance(b, dict):
            yield from ((f"{key}.{inner}" if inner else str(key), x, y) for inner, x, y in _fields(a, b))
        else:
            yield str(key), _shown(a), _shown(b)


def _shown(value: Any) -> str:
    if value is _MISSING:
        return ""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=str)


def _lines(text: bytes) -> list[str]:
    told = (line.strip() for line in text.decode("utf-8-sig", errors="replace").splitlines())
    return [line for line in told if line and not line.startswith("#")]


def _put_together(git: Git, forms: _Forms, *how: str) -> Sequence[bytes]:
    """What git makes of the lines, if it sees no contradiction in them."""
    with TemporaryDirectory() as folder:
        base, ours, theirs = (Path(folder, name) for name in ("base", "ours", "theirs"))
        for path, text in zip((base, ours, theirs), forms, strict=True):
            path.write_bytes(text)
        words = (*how, str(ours), str(base), str(theirs))
        done = git.run("merge-file", "-p", "-q", *words, may_fail=True)
    return [done.out] if done.code == 0 else []


def _shelf(text: bytes) -> Shelf | None:
    from kb.catalogue.own_files import parse_shelf

    try:
        return parse_shelf(text.decode("utf-8-sig")) if _lines(text) else Shelf()
    except UnicodeDecodeError:
        return None


def _shelf_said(text: bytes) -> Said | None:
    """A shelf as entries: each liquid held, each prohibition, each number."""
    shelf = _shelf(text)
    if shelf is None:
        return None
    said: Said = {("holds", id): True for id in shelf.holds}
    said |= {("forbids", _name(rule)): msgspec.to_builtins(rule) for rule in shelf.forbids}
    plain = Shelf()
    for name in ("peroxide_test_months", "expiry_notice_days"):
        if getattr(shelf, name) != getattr(plain, name):
            said[name, ""] = getattr(shelf, name)
    return said


def _name(rule: Forbidden) -> str:
    return ", ".join((*rule.liquids, *rule.families, *rule.hazards))


def _written(theirs: bytes, want: Said) -> bytes | None:
    """A shelf that says what is wanted, with the comments of theirs; None if it does not come out so."""
    from kb.catalogue.yaml_reader import Document
    from kb.desk.shelf.shelf_text import comments_of, text_of

    shelf = Shelf(
        holds=tuple(id for kind, id in want if kind == "holds"),
        forbids=tuple(
            msgspec.convert(rule, Forbidden) for (kind, _), rule in want.items() if kind == "forbids"
        ),
        **{name: value for (name, id), value in want.items() if not id},
    )
    text = theirs.decode("utf-8-sig")
    document = parse(text) if _lines(theirs) else Document({}, {}, [])
    comments = comments_of(text, document, _shelf(theirs) or Shelf())
    made = text_of(shelf, comments).encode()
    return made if _shelf_said(made) == want else None
