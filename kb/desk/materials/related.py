"""One link between entries, as the desk hands it out."""

from __future__ import annotations

from kb.model.question import Plain


class Link(Plain, frozen=True, kw_only=True):
    """One thing that an entry is linked to.

    ``kind`` and ``id`` are those of the other entry, or of a bottle; the kind ``test`` with an empty id
    stands for the tests in the book as a whole. ``relation`` says what it is to the entry, in words;
    ``red`` is the relative distance to a Hansen sphere (below 1: inside) where the link rests on one.
    """

    kind: str
    id: str
    name: str
    relation: str
    note: str = ""
    red: float | None = None
