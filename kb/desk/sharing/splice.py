"""Put the entries that one version of a catalogue file changed into another version, as lines of text."""

from __future__ import annotations

from typing import Any, NamedTuple

from kb.catalogue.yaml_reader import parse

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
