"""How inputs are made: texts of hostile pieces, and good files with damage done to them."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from tests.faults.hostile.corpus import SHORT

Texts = SearchStrategy[str]
PIECES: tuple[str, ...] = tuple(one.text for one in SHORT if one.storable)
ODD = "\x00\x07\x08\t\n\r\x1b\x7f\x85\x9b\xa0\u0301\u200b\u200e\u2028\u202e\u2066\ufeff\ufffe\U000e0041"
DIGITS = "0123456789.,+-eE \u0661\u00b2\uff11\u2212\u00bd"


def typed(words: Sequence[str]) -> Texts:
    """What a person might type where ``words`` are understood: those, pieces of them, and anything else."""
    letters = st.text(st.sampled_from(sorted(set("".join(words)) | set(DIGITS) | set(ODD))), max_size=12)
    piece = st.one_of(st.sampled_from(words), letters, st.sampled_from(PIECES), st.text(max_size=8))
    joined = st.builds(
        str.join, st.sampled_from(["", " ", " ", ",", "=", ";", "\t"]), st.lists(piece, max_size=6)
    )
    return st.one_of(joined, piece)


WHOLE = st.one_of(
    st.sampled_from(PIECES),
    st.lists(st.sampled_from(PIECES), max_size=4).map("".join),
    st.text(max_size=60),
    st.text(st.sampled_from(ODD + "abc[]{}<>&'\"\\%*"), max_size=40),
)
"""Any text at all."""


@st.composite
def damaged_lines(draw: DrawFn, good: bytes, junk: Sequence[bytes]) -> bytes:
    """A file with up to six things wrong: lines lost, doubled, shifted, words swapped, bytes flipped."""
    lines = good.splitlines(keepends=True)
    for _ in range(draw(st.integers(0, 6))):
        if not lines:
            break
        at = draw(st.integers(0, len(lines) - 1))
        lines[at : at + 1] = _hurt(draw, lines, at, junk)
    raw = b"".join(lines)
    return raw[: draw(st.integers(0, len(raw)))] if draw(st.integers(0, 9)) == 0 else raw


def _hurt(draw: DrawFn, lines: list[bytes], at: int, junk: Sequence[bytes]) -> list[bytes]:
    """What stands in the place of a line."""
    line = lines[at]
    how = draw(st.integers(0, 9))
    if how == 0:
        return []
    if how == 1:
        return [line, line]
    if how == 2:
        return [lines[draw(st.integers(0, len(lines) - 1))]]
    if how == 3:
        return [line, draw(st.one_of(st.sampled_from(junk), st.binary(max_size=30))) + b"\n"]
    if how == 4:
        return [line[draw(st.integers(0, 3)) :]]
    if how == 5:
        return [b" " * draw(st.integers(1, 4)) + line]
    place = draw(st.integers(0, max(len(line) - 1, 0)))
    if how == 6:
        return [line[:place] + bytes([draw(st.integers(0, 255))]) + line[place + 1 :]]
    if how == 7:
        return [line[:place] + draw(st.sampled_from(junk)) + line[place:]]
    if how == 8:
        return [line[:place] + line[place + draw(st.integers(1, 12)) :]]
    words = line.split(b" ")
    words[draw(st.integers(0, len(words) - 1))] = draw(st.sampled_from(junk))
    return [b" ".join(words)]
