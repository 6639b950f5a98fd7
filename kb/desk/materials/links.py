"""What an entry has to do with others, read in both directions; what rests on it, and on a source.

What the bench book says of an entry, in one line. Sums are read, never the tests themselves.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeVar

import msgspec

from kb.desk.choose.cautions import Names, all_names
from kb.desk.choose.rule import ORDER, about_liquid
from kb.desk.errors import DeskError
from kb.desk.materials.cited import Cited, cited_source
from kb.desk.materials.links_near import Link, near
from kb.desk.materials.lookup import entry_of
from kb.desk.materials.reading_words import EVIDENCE
from kb.desk.studio import Studio
from kb.index.catalogue_rows import Mention, mentioned_by, mentions_of, named_most
from kb.index.kept_rows import kept
from kb.index.queries import Connection, blends, entries, graded, record
from kb.model.guidance import Caution, Report
from kb.model.question import Plain

_CELLS = {
    "liquid": ("release_cell", "harm_cell"),
    "method": ("release_cell", "harm_cell"),
    "adhesive": ("release_cell",),
    "stage": ("release_cell",),
    "carrier": ("release_cell",),
    "medium": ("harm_cell",),
    "paper": ("harm_cell",),
}
"""For each kind the sums that are kept by it."""


class _Graded(NamedTuple):
    tests: int
    highest: int | None


def in_book(studio: Studio, kind: str, entry_id: str) -> Iterator[Link]:
    """How many tests of the book bear on the entry, the best release and the worst harm; its bottles."""
    conn = studio.index.conn
    if kind == "tape" and entry_id in studio.compiled.tapes:
        _, adhesive, carrier = studio.compiled.tapes[entry_id]
        where = {"adhesive": adhesive, "carrier": carrier}
        yield from _line(
            "tests here on such a tape", [("release_cell", _graded(conn, "release_cell", where))]
        )
    elif kind in _CELLS:
        found = [(table, _graded(conn, table, {kind: entry_id})) for table in _CELLS[kind]]
        yield from _line("tests here", found)
    if kind == "liquid":
        mixed = [id for id, parts in blends(conn) if entry_id in json.loads(parts)]
        found = [
            (table, _sum([_graded(conn, table, {kind: one}) for one in mixed])) for table in _CELLS[kind]
        ]
        yield from _line("tests here in blends", found)
        for row in kept(conn, "bottle", entry_id):
            if not row.body.finished:
                name = row.body.label or f"opened {row.body.opened or '(not known)'}"
                yield Link(kind="bottle", id=row.id, name=name, relation="on the shelf")


def _graded(conn: Connection, table: str, where: dict[str, str]) -> _Graded:
    """How many tests, or looks for harm, have a grade, and the highest grade among them."""
    row = graded(conn, table, where)
    return _Graded(sum(row), max((grade for grade, count in enumerate(row) if count > 0), default=None))


def _sum(parts: Sequence[_Graded]) -> _Graded:
    highest = [one.highest for one in parts if one.highest is not None]
    return _Graded(sum(one.tests for one in parts), max(highest, default=None))


def _line(name: str, found: Sequence[tuple[str, _Graded]]) -> Iterator[Link]:
    # A test that looked at an ink and at the paper beside it is two looks, each with its grade.
    words = {"release_cell": ("release graded in", "best"), "harm_cell": ("looks for harm:", "worst")}
    said = [
        f"{words[table][0]} {one.tests}, {words[table][1]} {one.highest} of 4"
        for table, one in found
        if one.tests
    ]
    if said:
        yield Link(kind="test", id="", name=name, relation="in the bench book", note="; ".join(said))


T = TypeVar("T", bound=msgspec.Struct)
_SOURCES = {"from", "cas_sources", "supplier_sources"}
_WORDS: dict[tuple[str, str], tuple[str, str]] = {
    ("liquid", "family"): ("of the family", "liquid of it"),
    ("liquid", "statements"): ("labelled", "on the label of"),
    ("liquid", "supplier_statements"): ("labelled by suppliers", "on suppliers' labels of"),
    ("liquid", "euh"): ("labelled", "on the label of"),
    ("polymer", "needs_all_of"): ("has the block", "block in"),
    ("carrier", "polymers"): ("made of", "in the carrier"),
    ("carrier", "usual_adhesives"): ("often with", "often on"),
    ("adhesive", "polymers"): ("made of", "in the adhesive"),
    ("adhesive", "stage"): ("goes through", "stage of"),
    ("tape", "carrier"): ("its carrier", "tape with it"),
    ("tape", "adhesive"): ("its adhesive", "tape with it"),
    ("medium", "polymers"): ("bound with", "binds"),
    ("paper", "polymers"): ("made of", "in the paper"),
    ("report", "parts"): ("used the liquid", "report"),
}
"""For each kind and field how the link is said from there, and how from the other end."""


def links(studio: Studio, kind: str, entry_id: str) -> list[Link]:
    """All that an entry is linked to, grouped by what it is to it; the nearest or most severe first.

    ``kind`` is the word of a kind (liquid, adhesive, medium ...). Distances and handbook grades are those
    that the ranking uses. Raises DeskError if there is no such entry.
    """
    conn = studio.index.conn
    row = entry_of(studio, kind, entry_id)
    names = all_names(studio)
    own = [_out(studio, one, names) for one in mentions_of(conn, kind, row.id)]
    back = [_back(studio, one, names) for one in mentioned_by(conn, kind, row.id)]
    back += _through_tape(studio, kind, row.id, names)
    found = [
        *_of_group(own, False),
        *near(studio, kind, row.id),
        *in_book(studio, kind, row.id),
        *sorted((*_cautions(studio, kind, row.id), *back), key=_weight),
        *_of_group(own, True),
    ]
    kept: dict[tuple[str, ...], Link] = {}
    for one in found:
        kept.setdefault((one.kind, one.id, one.relation, "" if one.id else one.name), one)
    return list(kept.values())


def _weight(one: Link) -> int:
    """Materials first, then cautions by severity, then reports."""
    severities = {f"caution: {severity}": place for severity, place in ORDER.items()}
    return {"caution": 10 + severities.get(one.relation.partition(" (")[0], 0), "report": 20}.get(one.kind, 0)


def _through_tape(studio: Studio, kind: str, entry_id: str, names: Names) -> Iterator[Link]:
    """What is said of a tape's adhesive and carrier is said of the tape."""
    if kind != "tape" or entry_id not in studio.compiled.tapes:
        return
    _, adhesive, carrier = studio.compiled.tapes[entry_id]
    for part, id, kinds in (("adhesive", adhesive, {"caution", "report"}), ("carrier", carrier, {"caution"})):
        for one in mentioned_by(studio.index.conn, part, id):
            if one.kind in kinds:
                found = _back(studio, one, names)
                yield msgspec.structs.replace(found, relation=f"{found.relation} (its {part})")


def _of_group(found: list[Link], sources: bool) -> list[Link]:
    return [one for one in found if (one.kind == "source") is sources]


def _out(studio: Studio, one: Mention, names: Names) -> Link:
    """What the entry itself names; of a source, how far it can be trusted."""
    relation, note = _WORDS.get((one.kind, one.field), (_plain(one), ""))[0], ""
    if one.field in _SOURCES:
        relation, note = "rests on", cited_source(studio, one.to_id).mark
    elif one.kind == "caution":
        relation = "speaks of"
    name = names.get((one.to_kind, one.to_id), one.to_id)
    return Link(kind=one.to_kind, id=one.to_id, name=name, relation=relation, note=note)


def _plain(one: Mention) -> str:
    return f"its {one.field.replace('_', ' ')}" if one.field == one.to_kind else "names"


def _back(studio: Studio, one: Mention, names: Names) -> Link:
    relation, note = _WORDS.get((one.kind, one.field), ("", "named by"))[1], ""
    if one.field in _SOURCES:
        relation = "rests on it"
    elif one.kind == "caution":
        caution = _decoded(studio, one, Caution)
        relation, note = f"caution: {caution.severity}", caution.text
    elif one.kind == "report":
        relation, note = "report", _report(studio, _decoded(studio, one, Report), one)
    elif one.kind == "look":
        relation = "told by the look"
    return Link(
        kind=one.kind, id=one.id, name=names.get((one.kind, one.id), one.id), relation=relation, note=note
    )


def _decoded(studio: Studio, one: Mention, type_: type[T]) -> T:
    found = record(studio.index.conn, one.kind, one.id, type_)
    if found is None:
        raise DeskError(f"The {one.kind} {one.id} is gone from the index; derive the index anew.")
    return found


def _report(studio: Studio, report: Report, one: Mention) -> str:
    """What a report says of the entry, its evidence grade, and what of it was read."""
    said = [
        result.result + (" (in a blend)" if len(result.parts) > 1 else "")
        for result in report.liquids
        if one.to_kind == "liquid" and one.to_id in result.parts
    ]
    if one.field == "adhesive" and report.adhesive_assumed:
        said.append("the adhesive is an assumption")
    cited = [cited_source(studio, source) for source in report.sources]
    read = [f"{source.mark}{f': {source.extent}' if source.extent else ''}" for source in cited]
    grade = f"evidence {report.evidence}, {EVIDENCE[report.evidence]}"
    return "; ".join(dict.fromkeys((*said, grade, *read)))


def _cautions(studio: Studio, kind: str, entry_id: str) -> Iterator[Link]:
    """Cautions that meet a liquid by its family or label; and the liquids that a caution meets."""
    compiled = studio.compiled
    for caution in compiled.cautions:
        if not about_liquid(caution.when):
            continue
        if kind == "liquid" and entry_id in compiled.by_id and caution.id in compiled.by_id[entry_id].meets:
            yield Link(
                kind="caution",
                id=caution.id,
                name=caution.text,
                relation=f"caution: {caution.severity}",
                note=caution.text,
            )
        if kind == "caution" and caution.id == entry_id:
            for liquid in compiled.liquids:
                if caution.id in liquid.meets:
                    yield Link(kind="liquid", id=liquid.id, name=liquid.name, relation="applies to")


# -- what rests on an entry, and on a source -----------------------------------------------------------------


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
