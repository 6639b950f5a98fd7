"""All caution rules in words, and those that speak of something named."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kb.desk.choose.rule import ORDER, about_liquid
from kb.desk.materials.cited import Cited, cited_source, mark_of
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.queries import entries, names
from kb.model.guidance import Caution, Severity, When
from kb.model.question import Plain

Names = Mapping[tuple[str, str], str]
"""Name of each entry by the word of its kind and its id."""
_SHEET = (
    ("media", "medium", "on"),
    ("papers", "paper", "on the paper"),
    ("tapes", "tape", "with the tape"),
    ("carriers", "carrier", "with the carrier"),
    ("adhesives", "adhesive", "with the adhesive"),
    ("stages", "stage", "at the stage"),
    ("methods", "method", "put on by"),
)
"""For each part of a condition about the sheet or the work: key, kind, and how it is said."""


class CautionView(Plain, frozen=True, kw_only=True):
    """One rule. ``where`` is its condition in words; ``mark`` says so if none of its sources was read."""

    id: str
    severity: Severity
    where: str
    text: str
    instead: str
    sources: tuple[Cited, ...]
    mark: str
    file: str
    line: int
    origin: str


def cautions(
    studio: Studio,
    *,
    liquid: str = "",
    medium: str = "",
    paper: str = "",
    tape: str = "",
    adhesive: str = "",
    carrier: str = "",
    stage: str = "",
    method: str = "",
    severity: str = "",
) -> list[CautionView]:
    """All rules, the most severe first; narrowed by ids to those that speak of what is named.

    A rule stays if its condition agrees with everything that is named and is about one of these things
    at least: of a medium alone, its own rules stay and not those about every flammable liquid.
    """
    wanted = {
        "media": medium,
        "papers": paper,
        "tapes": tape,
        "adhesives": adhesive,
        "carriers": carrier,
        "stages": stage,
        "methods": method,
    }
    compiled = studio.compiled
    found = [
        one
        for one in compiled.cautions
        if (not severity or one.severity == severity) and speaks_of(compiled, one, liquid, wanted)
    ]
    return seen(studio, found)


def seen(studio: Studio, rules: Iterable[Caution]) -> list[CautionView]:
    """Rules as a reader needs them, the most severe first."""
    ordered = sorted(rules, key=lambda one: (ORDER[one.severity], one.id))
    # Many rules rest on the same few sources.
    cited = {
        id: cited_source(studio, id) for id in dict.fromkeys(id for one in ordered for id in one.sources)
    }
    return [_view(studio, one, cited) for one in ordered]


def speaks_of(compiled: Compiled, caution: Caution, liquid: str, wanted: Mapping[str, str]) -> bool:
    """Whether a rule agrees with the things named (ids; empty: not named) and is about one of them."""
    when = caution.when
    named = {key: id for key, id in wanted.items() if id}
    if not named and not liquid:
        return True
    # A rule about another medium than the one named has nothing to say here.
    if any(getattr(when, key) and id not in getattr(when, key) for key, id in named.items()):
        return False
    # What says nothing of what was named would list every flammable liquid under each medium.
    about = any(getattr(when, key) for key in named)
    if not liquid:
        return about
    known = compiled.by_id.get(liquid)
    if known is None or caution.id not in known.meets:
        return False
    return about or about_liquid(when)


def where(when: When, names: Names) -> str:
    """A condition in words: with what liquid, on what, with which tape, put on how."""
    said = []
    if when.liquids:
        said.append(_any("liquid", when.liquids, names))
    if when.families:
        said.append(f"a liquid of the family {_any('family', when.families, names)}")
    if when.agents:
        said.append(f"a liquid that acts as {_or(when.agents)}")
    if when.hazards:
        said.append(f"a liquid labelled {_or(when.hazards)}")
    # Several conditions about the liquid must all be met by it.
    parts = [" and at once ".join(said)] if said else []
    for key, kind, words in _SHEET:
        ids: Sequence[str] = getattr(when, key)
        if ids:
            parts.append(f"{words} {_any(kind, ids, names)}")
    # A rule without conditions holds everywhere; it is not a rule about nothing.
    return "; ".join(parts) or "everywhere"


def _any(kind: str, ids: Sequence[str], names: Names) -> str:
    return _or([names.get((kind, id), id) for id in ids])


def _or(words: Sequence[str]) -> str:
    return "".join(words) if len(words) < 2 else f"{', '.join(words[:-1])} or {words[-1]}"


def all_names(studio: Studio) -> Names:
    """Name of each entry of the catalogue by the word of its kind and its id."""
    # Kept with the compiled catalogue: all rules together name hundreds of entries.
    found: Names = studio.compiled.kept("names", None, lambda: names(studio.index.conn))
    return found


def _view(studio: Studio, one: Caution, known: Mapping[str, Cited]) -> CautionView:
    compiled = studio.compiled
    rows = compiled.kept(
        "caution rows", None, lambda: {r.id: r for r in entries(studio.index.conn, "caution")}
    )
    cited = {id: known[id] for id in one.sources}
    row = rows.get(one.id)
    return CautionView(
        id=one.id,
        severity=one.severity,
        where=where(one.when, all_names(studio)),
        text=one.text,
        instead=one.instead,
        sources=tuple(cited.values()),
        mark=mark_of(one.sources, cited),
        file=row.file if row else "",
        line=row.line if row else 0,
        origin=row.origin if row else "",
    )
