"""All kinds of record that this version knows. A new kind is a file beside this one and a name in KINDS."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from kb.book.kinds.batch import BATCH
from kb.book.kinds.bath_reading import READING
from kb.book.kinds.bottle import BOTTLE, STOCK
from kb.book.kinds.condition import CONDITION
from kb.book.kinds.housing import HOUSING
from kb.book.kinds.kind import Kind
from kb.book.kinds.mend import MEND, PRESSING
from kb.book.kinds.patch import PATCH, STRIP
from kb.book.kinds.photograph import PAIR, PHOTOGRAPH
from kb.book.kinds.sheet import SHEET
from kb.book.kinds.spot_test import TEST
from kb.book.kinds.swelling import SWELLING
from kb.book.kinds.toning import TONING

KINDS: Final[dict[str, Kind]] = {
    kind.key: kind
    for kind in (
        TEST,
        BOTTLE,
        READING,
        BATCH,
        MEND,
        TONING,
        PRESSING,
        HOUSING,
        SHEET,
        CONDITION,
        STRIP,
        PATCH,
        STOCK,
        SWELLING,
        PHOTOGRAPH,
        PAIR,
    )
}
"""By what stands in a line of the book; changes of records are none of them."""


def noun_of(key: str) -> str:
    """What a reader calls a kind of record; one that this version does not know by its own name."""
    return KINDS[key].noun if key in KINDS else key


class _AllButTests(Mapping[str, Kind]):
    """A view and no copy: a kind that is added to KINDS is in it at once."""

    def __getitem__(self, key: str) -> Kind:
        if key == TEST.key:
            raise KeyError(key)
        return KINDS[key]

    # Worked out each time: tests add kinds of their own, and a copy would not have them.
    def __iter__(self) -> Iterator[str]:
        return (key for key in KINDS if key != TEST.key)

    def __len__(self) -> int:
        return len(KINDS) - 1


KEPT: Final = _AllButTests()
"""All kinds but the spot test, whose records are counted into evidence and not only kept."""
