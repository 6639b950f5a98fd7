"""Rewrite shelf.yaml: as a person would have written it, with its comments, all of it or nothing."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from kb.book.storage import locked_folder, put_whole
from kb.desk.errors import DeskError, refuse_lost_link
from kb.model.studio import EXPIRY_NOTICE_DAYS, PEROXIDE_TEST_MONTHS, Forbidden, Shelf

if TYPE_CHECKING:
    from kb.catalogue.yaml_reader import Document
    from kb.desk.studio import Studio

WAIT_S = 10.0
HEADER = """\
# The shelf of this studio: which liquids it holds, and which it forbids and why. Every line may be left out.
# Without any line under "holds", all liquids count as held.
# "benchleaf shelf" rewrites this file; comments above an entry or behind a held liquid stay with it.
"""
NOTHING = "Nothing was changed."
_ITEM = re.compile(r"\s*-\s+[a-z0-9-]+\s+(#.*)")
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 ,.()/-]*[A-Za-z0-9.)]")
Anchor = str | Forbidden
"""What a comment belongs to: a key of the file, ``holds/`` with an id, or a prohibition."""


class Comments(NamedTuple):
    """Comments of a file: its head, those above something, those behind a held liquid, and its end."""

    head: tuple[str, ...]
    above: dict[Anchor, tuple[str, ...]]
    behind: dict[str, str]
    end: tuple[str, ...]


def rewrite(studio: Studio, change: Callable[[Shelf], Shelf]) -> bool:
    """Change the shelf's file as a whole; True if it says something else now.

    Two programs that change it at once wait for each other. Raises DeskError, with the file as it was,
    if the file cannot be read for certain or cannot be written.
    """
    from kb.catalogue.own_files import parse_shelf, read_strict

    studio.make()
    path = studio.shelf_file
    refuse_lost_link(path)
    try:
        with locked_folder(studio.root, WAIT_S):
            shelf, comments = Shelf(), Comments((), {}, {}, ())
            if path.exists():
                shelf, document = read_strict(path)
                comments = comments_of(path.read_text(encoding="utf-8-sig"), document, shelf)
            changed = change(shelf)
            if changed == shelf:
                return False
            text = text_of(changed, comments)
            if parse_shelf(text) != changed:
                raise DeskError(f"The change cannot be written down in {path.name}. {NOTHING}")
            # A link is followed, so that a shelf kept elsewhere stays there.
            put_whole(path.resolve(), text.encode())
    except ValueError as error:
        raise DeskError(f"{error} Mend this first. {NOTHING}") from error
    except OSError as error:
        why = f"{path} cannot be written ({error.strerror or error})"
        raise DeskError(f"{why}. {NOTHING} Change its rights or make room, then try again.") from error
    studio.mark_stale()
    return True


def text_of(shelf: Shelf, comments: Comments) -> str:
    """The file's text, with the comments that still have something to belong to."""
    lines = list(comments.head) if comments.head else HEADER.splitlines()
    if shelf.holds:
        lines += ["", *comments.above.get("holds", ()), "holds:"]
        for one in shelf.holds:
            behind = f"  {comments.behind[one]}" if one in comments.behind else ""
            lines += [*comments.above.get(f"holds/{one}", ()), f"- {one}{behind}"]
    if shelf.forbids:
        lines += ["", *comments.above.get("forbids", ()), "forbids:"]
        for rule in shelf.forbids:
            lines += [*comments.above.get(rule, ()), *_prohibition(rule)]
    numbers = []
    if shelf.peroxide_test_months != PEROXIDE_TEST_MONTHS:
        numbers.append(("peroxide_test_months", f"{shelf.peroxide_test_months:g}"))
    if shelf.expiry_notice_days != EXPIRY_NOTICE_DAYS:
        numbers.append(("expiry_notice_days", str(shelf.expiry_notice_days)))
    for key, number in numbers:
        lines += ["", *comments.above.get(key, ()), f"{key}: {number}"]
    if shelf == Shelf():
        # A file of comments alone would be no YAML map.
        lines += ["", "holds: []"]
    if comments.end:
        lines += ["", *comments.end]
    return "\n".join(lines) + "\n"


def _prohibition(rule: Forbidden) -> list[str]:
    pairs = [
        f"{key}: [{', '.join(ids)}]"
        for key, ids in (("liquids", rule.liquids), ("families", rule.families), ("hazards", rule.hazards))
        if ids
    ]
    pairs += [f"why: {_scalar(rule.why)}", f"rule: {rule.rule}"]
    return [f"{'- ' if number == 0 else '  '}{pair}" for number, pair in enumerate(pairs)]


def _scalar(text: str) -> str:
    """Words as they are where that is plain text in YAML, else in double quotes."""
    from kb.catalogue.yaml_reader import resolve

    plain = _PLAIN.fullmatch(text) is not None and isinstance(resolve(text), str)
    return text if plain else json.dumps(text, ensure_ascii=False)


def comments_of(text: str, document: Document, shelf: Shelf) -> Comments:
    """The comments of a file, each tied to what it stands above or behind."""
    starts: dict[int, str] = {}
    for key, start in _anchors(document, shelf):
        starts.setdefault(start, key)
    first = min(starts, default=0)
    head: tuple[str, ...] = ()
    waiting: list[str] = []
    above: dict[Anchor, tuple[str, ...]] = {}
    behind: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("#"):
            waiting.append(line.strip())
        elif number in starts:
            key = starts[number]
            found = _ITEM.fullmatch(line)
            if found and key.startswith("holds/"):
                behind[key.removeprefix("holds/")] = found[1]
            if number == first:
                head = tuple(waiting)
            elif waiting:
                above[_anchor(key, shelf)] = tuple(waiting)
            waiting = []
    return Comments(head, above, behind, tuple(waiting)) if starts else Comments(tuple(waiting), {}, {}, ())


def _anchors(document: Document, shelf: Shelf) -> Iterator[tuple[str, int]]:
    for at, line in document.lines.items():
        if len(at) == 1:
            yield str(at[0]), line
        elif len(at) == 2 and at[0] == "holds" and isinstance(at[1], int):
            yield f"holds/{shelf.holds[at[1]]}", line
        elif len(at) == 2 and at[0] == "forbids":
            yield f"forbids/{at[1]}", line


def _anchor(key: str, shelf: Shelf) -> Anchor:
    return shelf.forbids[int(key.removeprefix("forbids/"))] if key.startswith("forbids/") else key
