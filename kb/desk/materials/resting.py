"""What rests on what: sources by the entries that name them, and what would change with one entry."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from kb.desk.materials.cited import Cited, cited_source
from kb.desk.materials.links import links
from kb.index.mentions import mentioned_by, mentions_of, named_most
from kb.index.queries import entries
from kb.model.question import Plain

if TYPE_CHECKING:
    from kb.desk.studio import Studio

RANKED = {
    "adhesive": "every ranking for it",
    "carrier": "every ranking through it",
    "stage": "every ranking at it",
    "method": "every ranking by it",
    "medium": "every ranking near it: harm",
    "paper": "every ranking on it: harm",
    "tape": "every ranking for it, by its adhesive and carrier",
    "polymer": "rankings of what is made of it",
    "family": "the handbook column that its liquids read",
    "report": "rankings, as a very small test",
    "hazard": "the order of liquids by danger",
    "look": "what a tape may be",
}
"""How an entry of a kind enters answers, in words."""


class Resting(Plain, frozen=True, kw_only=True):
    """A source and how many entries of each kind name it."""

    source: Cited
    entries: int
    kinds: dict[str, int]


class Depends(Plain, frozen=True, kw_only=True):
    """What would change with an entry, in lines of text, and what to read about it."""

    lines: tuple[str, ...]
    reading: tuple[Cited, ...]
    """Cited texts that it names, those with an address first."""
    unread: tuple[Cited, ...]
    """What it rests on besides: memory, practice, texts that were not read."""


def resting(studio: Studio, *, unread: bool = False) -> list[Resting]:
    """All sources, the one that most rests on first; with ``unread`` only those that nobody read."""
    kinds: dict[str, dict[str, int]] = {}
    for source, kind, count in named_most(studio.index.conn, "source"):
        kinds.setdefault(source, {})[kind] = count
    found = [
        Resting(
            source=cited_source(studio, row.id),
            entries=sum(kinds.get(row.id, {}).values()),
            kinds=kinds.get(row.id, {}),
        )
        for row in entries(studio.index.conn, "source")
    ]
    wanted = [one for one in found if not unread or not one.source.seen]
    return sorted(wanted, key=lambda one: (-one.entries, one.source.id))


def depends(studio: Studio, kind: str, entry_id: str) -> Depends:
    """What depends on an entry. Raises DeskError if there is no such entry."""
    named = [one.to_id for one in mentions_of(studio.index.conn, kind, entry_id) if one.to_kind == "source"]
    cited = [cited_source(studio, source) for source in dict.fromkeys(named)]
    texts = [one for one in cited if one.basis in ("published", "library") and one.seen]
    return Depends(
        lines=(*_answers(studio, kind, entry_id), *_spoken_of(studio, kind, entry_id)),
        reading=tuple(sorted(texts, key=lambda one: not one.url)),
        unread=tuple(one for one in cited if one not in texts),
    )


def _answers(studio: Studio, kind: str, entry_id: str) -> tuple[str, ...]:
    if kind != "liquid":
        return (f"rankings: {RANKED[kind]}",) if kind in RANKED else ()
    liquid = studio.compiled.by_id.get(entry_id)
    if liquid is None or liquid.hansen is None:
        return ("rankings and blends: none, for no Hansen parameters are known here",)
    return (
        "rankings: every one, unless the shelf leaves it out",
        "blends: every search that its flash point, hazards and the shelf allow",
    )


def _spoken_of(studio: Studio, kind: str, entry_id: str) -> tuple[str, ...]:
    """``cautions: 4``; what names the entry, and cautions that meet it by its family or label."""
    naming = {(one.kind, one.id) for one in mentioned_by(studio.index.conn, kind, entry_id)}
    # Distances to spheres and handbook grades are links too, and nothing hangs on them.
    naming |= {(one.kind, one.id) for one in links(studio, kind, entry_id) if one.kind == "caution"}
    counts = Counter(kind for kind, _ in naming)
    return tuple(f"{_many(kind)}: {counts[kind]}" for kind in sorted(counts))


def _many(kind: str) -> str:
    return {"medium": "media", "miscibility": "rules of mixing", "pair": "dangerous pairs"}.get(
        kind, f"{kind}s"
    )
