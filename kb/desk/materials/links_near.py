"""Links that chemistry and handbook grades make: what a liquid reaches, and what reaches a material.

One link between entries, as the desk hands it out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from kb.desk.choose.cautions import all_names
from kb.desk.studio import Studio
from kb.index.compiled import RESPONSE_LOGITS, CLiquid, Compiled
from kb.index.queries import records
from kb.model.base import UNSTATED
from kb.model.material import AgentSensitivity, Carrier, Medium, Paper, Polymer
from kb.model.question import Plain
from kb.science.liquids.solubility import red


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


GRADE_ORDER = {"usually bleeds": 0, "test with care": 1, "unknown": 2, "stable": 3}
_RESPONSES = {logit: words for words, logit in RESPONSE_LOGITS.items()}
_FAR = 1e9


class Tie(NamedTuple):
    """How a liquid and a material stand to one another: in words, as a distance, and a remark."""

    relation: str
    red: float | None
    note: str = ""


class Materials(NamedTuple):
    """Full records of what the compiled numbers leave out."""

    polymers: Mapping[str, Polymer]
    carriers: Mapping[str, Carrier]
    grades: Mapping[str, Mapping[str, AgentSensitivity]]
    """Sensitivity rows by medium or paper and by agent."""


def materials(studio: Studio) -> Materials:
    """Read once and kept as long as the catalogue stays as it is."""
    return studio.compiled.kept("materials", None, lambda: _read(studio))


def _read(studio: Studio) -> Materials:
    conn = studio.index.conn
    sensitive: list[Medium | Paper] = [*records(conn, "medium", Medium), *records(conn, "paper", Paper)]
    return Materials(
        {one.id: one for one in records(conn, "polymer", Polymer)},
        {one.id: one for one in records(conn, "carrier", Carrier)},
        {one.id: {row.agent: row for row in one.sensitivity} for one in sensitive},
    )


def near(studio: Studio, kind: str, entry_id: str) -> list[Link]:
    """Links of one entry by distance and grade, the nearest or most sensitive first."""
    compiled = studio.compiled
    if kind == "liquid":
        liquid = compiled.by_id.get(entry_id)
        return [] if liquid is None else list(_of_liquid(studio, liquid))
    ties = [(liquid, tie) for liquid in compiled.liquids if (tie := _tie(studio, liquid, kind, entry_id))]
    if kind == "polymer":
        ties = [(liquid, tie) for liquid, tie in ties if tie.relation == "inside"]
    found = [_link("liquid", liquid.id, liquid.name, tie) for liquid, tie in ties]
    return _by_grade(found) if kind in {"medium", "paper"} else _by_red(found)


def _tie(studio: Studio, liquid: CLiquid, kind: str, entry_id: str) -> Tie | None:
    """How a liquid stands to one entry of another kind; None if nothing is known or to be said."""
    compiled = studio.compiled
    if kind == "adhesive":
        return _on_adhesive(compiled, liquid, entry_id)
    if kind in {"medium", "paper"}:
        return _on_medium(studio, liquid, kind, entry_id)
    if kind == "polymer":
        return _reached(studio, liquid, (entry_id,))
    if kind == "carrier" and entry_id in materials(studio).carriers:
        return _reached(studio, liquid, materials(studio).carriers[entry_id].polymers)
    if kind == "tape" and entry_id in compiled.tapes:
        tie = _on_adhesive(compiled, liquid, compiled.tapes[entry_id][1])
        if tie is None or tie.relation in {"outside", "not known"}:
            return None
        return tie._replace(relation="inside its adhesive") if tie.relation == "inside" else tie
    return None


def _by_distance(distance: float) -> Tie:
    return Tie("inside" if distance < 1 else "outside", distance, "")


def _on_adhesive(compiled: Compiled, liquid: CLiquid, adhesive: str) -> Tie | None:
    """By distance; where no sphere is known, what handbooks say of the liquid's class."""
    if adhesive not in compiled.adhesives:
        return None
    distance = compiled.red_adhesive(adhesive, liquid.hansen)
    if distance is not None:
        return _by_distance(distance)
    logit = compiled.adhesives[adhesive].responses.get(liquid.agent) if liquid.agent else None
    if logit is not None:
        return Tie(_RESPONSES[logit], None, f"no distance is known; handbooks on {liquid.agent} in general")
    return Tie("not known", None, "neither a distance nor a handbook's word is known")


def _on_medium(studio: Studio, liquid: CLiquid, kind: str, entry_id: str) -> Tie | None:
    """The handbook grade for the liquid's class, with the distance to the binder of a medium."""
    row = materials(studio).grades.get(entry_id, {}).get(liquid.agent) if liquid.agent else None
    distance = studio.compiled.red_medium(entry_id, liquid.hansen) if kind == "medium" else None
    if row is not None:
        return Tie(row.grade, distance, f"as {row.agent}{f': {row.text}' if row.text else ''}")
    if liquid.agent and materials(studio).grades.get(entry_id):
        return Tie(UNSTATED, distance, f"as {liquid.agent}: nothing found in writing")
    if distance is not None:
        words = "binder inside" if distance < 1 else "binder outside"
        return Tie(words, distance, "no handbook grade for its class")
    return None


def _reached(studio: Studio, liquid: CLiquid, polymers: Sequence[str]) -> Tie | None:
    """Distance to the most easily reached of the polymers; of a block copolymer, to its farthest block."""
    known = materials(studio).polymers
    found = []
    for polymer in (known[one] for one in polymers if one in known):
        blocks = [known[block] for block in polymer.needs_all_of if block in known] or [polymer]
        spheres = [block.sphere for block in blocks if block.sphere is not None]
        if spheres and liquid.hansen is not None:
            found.append(max(red(liquid.hansen, (s.d, s.p, s.h), s.r0) for s in spheres))
    return _by_distance(min(found)) if found else None


def _of_liquid(studio: Studio, liquid: CLiquid) -> Iterator[Link]:
    """What one liquid stands to, kind by kind."""
    for kind in ("adhesive", "medium", "paper", "tape", "carrier", "polymer"):
        known = {id: name for (of, id), name in all_names(studio).items() if of == kind}
        ties = [(id, name, tie) for id, name in known.items() if (tie := _tie(studio, liquid, kind, id))]
        if kind == "tape":
            ties = [(id, name, _of_tape(studio.compiled, id, tie)) for id, name, tie in ties]
        if kind == "polymer":
            ties = [(id, name, tie) for id, name, tie in ties if tie.relation == "inside"]
        found = [_link(kind, id, name, tie) for id, name, tie in ties]
        yield from _by_grade(found) if kind in {"medium", "paper"} else _by_red(found)


def _of_tape(compiled: Compiled, tape: str, tie: Tie) -> Tie:
    """Of a tape, say which adhesive it is that the liquid reaches."""
    adhesive = compiled.adhesives[compiled.tapes[tape][1]].name
    return tie._replace(note="; ".join(filter(None, (adhesive, tie.note))))


def _link(kind: str, id: str, name: str, tie: Tie) -> Link:
    note = "; ".join(filter(None, ("" if tie.red is None else f"RED {tie.red:.2f}", tie.note)))
    return Link(kind=kind, id=id, name=name, relation=tie.relation, note=note, red=tie.red)


def _by_red(found: Iterable[Link]) -> list[Link]:
    return sorted(found, key=lambda one: (_reach(one), one.relation, one.name.casefold()))


def _by_grade(found: Iterable[Link]) -> list[Link]:
    return sorted(found, key=lambda one: (GRADE_ORDER.get(one.relation, 4), _reach(one), one.name.casefold()))


def _reach(one: Link) -> float:
    return _FAR if one.red is None else one.red
