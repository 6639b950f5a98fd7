"""Checks across entries: every reference leads somewhere, no name means two things, cautions can be met.

What a studio's own entry may not take away from a shipped one: stops and hazards are only added to.

An entry of the same id arrives from a colleague's package or a shared folder as easily as from one's own
hand, and a weakened stop looks like any other answer.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from typing import Any, NamedTuple, TypeVar

import msgspec

from kb.catalogue.problems import Fault, NodePath, Part, an, fields, nearest, quoted
from kb.model.base import Record
from kb.model.guidance import ABOUT_LIQUID, Caution, Report, ReportedLiquid, When
from kb.model.identification import Sign
from kb.model.kinds import BY_KEY
from kb.model.liquid import Classification, ExposureLimit, Family, Liquid, MixSide, labelled, meets
from kb.model.material import (
    Adhesive,
    AgentResponse,
    AgentSensitivity,
    Carrier,
    Medium,
    Method,
    Paper,
    Polymer,
    StageSigns,
    Tape,
)
from kb.model.protection import Glove, GloveFigure
from kb.model.recipe import Ingredient, Recipe

AGENTS = ("water", "alkaline", "ethanol", "acetone", "aromatics", "aliphatics", "heat")
"""The columns of the sensitivity tables of media and papers; families of liquids point at them."""

_SOURCE_FIELDS = ("sources", "cas_sources", "supplier_sources")
_REFERENCES: dict[type[Record], dict[str, str]] = {
    Liquid: {"family": "families"},
    ExposureLimit: {"authority": "authorities"},
    Family: {"agent": "agents"},
    Classification: {"statements": "hazards", "supplier_statements": "hazards", "euh": "hazards"},
    Polymer: {"needs_all_of": "polymers"},
    Carrier: {"polymers": "polymers", "usual_adhesives": "adhesives"},
    StageSigns: {"stage": "stages"},
    AgentResponse: {"agent": "agents"},
    AgentSensitivity: {"agent": "agents"},
    Adhesive: {"polymers": "polymers"},
    Tape: {"carrier": "carriers", "adhesive": "adhesives"},
    Medium: {"polymers": "polymers"},
    Paper: {"polymers": "polymers"},
    Method: {"recipes": "recipes"},
    When: {key: key for key in When.__struct_fields__},
    Report: {
        "adhesive": "adhesives",
        "stage": "stages",
        "carrier": "carriers",
        "medium": "media",
        "paper": "papers",
        "method": "methods",
    },
    ReportedLiquid: {"parts": "liquids"},
    Sign: {"tapes": "tapes", "carriers": "carriers", "adhesives": "adhesives", "stages": "stages"},
    MixSide: {"liquids": "liquids", "families": "families", "hazards": "hazards", "without": "families"},
    GloveFigure: {"liquids": "liquids"},
    Glove: {"serves": "families", "fails": "families"},
    Recipe: {"thinned_by": "recipes"},
    Ingredient: {"recipe": "recipes", "liquid": "liquids"},
}
"""For each type, the fields that hold ids and the kind they name. ``agents`` are a fixed set."""

_CODE = re.compile(r"((?:EU)?H[0-9]{3})[A-Za-z]*(?: .*)?")


class Reference(NamedTuple):
    """One id that an entry mentions: where, and of which kind."""

    at: NodePath
    kind: str
    id: str


def statement_code(statement: str) -> str:
    """The bare code of a hazard statement: ``H361f`` and ``H361 (liver)`` both rest on ``H361``."""
    match = _CODE.fullmatch(statement.strip())
    return match[1] if match else statement


def references(parts: tuple[Part, ...]) -> Iterator[Reference]:
    """All references of one entry, given as its parts."""
    for part in parts:
        known = _REFERENCES.get(type(part.struct), {})
        for name, key in fields(type(part.struct)):
            kind = "sources" if name in _SOURCE_FIELDS else known.get(name)
            if kind is None:
                continue
            value = getattr(part.struct, name)
            if isinstance(value, str):
                if value:
                    yield Reference((*part.at, key), kind, value)
            elif isinstance(value, tuple):
                for number, one in enumerate(value):
                    yield Reference((*part.at, key, number), kind, one)
            elif isinstance(value, dict):
                for one in value:
                    yield Reference((*part.at, key, one), kind, one)


def dangling(
    mentioned: Collection[Reference],
    known: Mapping[str, Collection[str]],
    left_out: Collection[tuple[str, str]],
) -> Iterator[Fault]:
    """A fault for each reference that leads nowhere.

    ``known`` holds the ids of each kind; ``left_out`` the entries that exist but have faults of their
    own, so that the reader is sent to the cause.
    """
    for at, kind, id in mentioned:
        if kind == "agents":
            if id not in AGENTS:
                yield Fault(at, f"the agent {quoted(id)} is not known", "one of: " + ", ".join(AGENTS))
            continue
        ids = known.get(kind, ())
        if id in ids or (kind == "hazards" and statement_code(id) in ids):
            continue
        word = BY_KEY[kind].word
        if (kind, id) in left_out:
            said = f"the {word} {quoted(id)} was left out because of a fault of its own"
            yield Fault(at, said, f"{an(word)} without a fault")
            continue
        said = f"there is no {word} {quoted(id)}"
        near = nearest(id, ids)
        said += f'; did you mean "{near}"?' if near else ""
        field = next((step for step in reversed(at) if isinstance(step, str) and step != id), "from")
        shown = near if at[-1] == field else f"[{near}]"
        example = f"{field}: {shown}" if near else ""
        yield Fault(at, said, f"the id of {an(word)} in the catalogue", example)


def _names(id: str, record: Record) -> Iterator[tuple[NodePath, str]]:
    """All by which people look an entry up, and where each stands."""
    yield ("id",), id
    if name := getattr(record, "name", ""):
        yield ("name",), name
    for number, other in enumerate(getattr(record, "also", ())):
        yield ("also", number), other


def ambiguous(entries: Mapping[str, Record]) -> Iterator[tuple[str, str, Fault]]:
    """Names shared by two entries of one kind: id of the later one, id of the earlier one, the fault."""
    owner: dict[str, str] = {}
    for id, record in entries.items():
        for at, name in _names(id, record):
            # Names that differ only in case, hyphens or blanks read alike.
            folded = " ".join(re.sub(r"[-_]", " ", name.casefold()).split())
            first = owner.setdefault(folded, id)
            if first != id:
                said = f'the name {quoted(name)} also stands for the entry "{first}"'
                yield id, first, Fault(at, said, "a name that means one entry of its kind")


Entries = Mapping[str, Mapping[str, Record]]
"""Entries of a catalogue by kind key and id."""
_EXPECTED = "values that can all be met at once, or no line for the one that is not needed"


def rule_faults(entries: Entries, *, whole: bool = True) -> Iterator[tuple[str, Fault]]:
    """The id of each faulty caution with its fault.

    ``whole`` is False if some liquid was left out of the catalogue because of a fault of its own: whether
    any liquid meets a condition is then not asked, for the answer would blame the wrong entry.
    """
    first: dict[tuple[frozenset[str], ...], Caution] = {}
    for id, one in entries.get("cautions", {}).items():
        if not isinstance(one, Caution):
            continue
        yield from ((id, fault) for fault in _twice_inside(one.when))
        if whole:
            yield from ((id, fault) for fault in _about_liquids(one.when, entries))
        yield from (
            (id, fault) for fault in (*_about_tapes(one.when, entries), *_about_stages(one.when, entries))
        )
        # Without the order in which its values stand.
        condition = tuple(frozenset(getattr(one.when, key)) for key in When.__struct_fields__)
        earlier = first.setdefault(condition, one)
        if earlier is not one:
            yield id, _repeats(one, earlier)


def _repeats(one: Caution, earlier: Caution) -> Fault:
    if one.severity != earlier.severity:
        said = (
            f"the condition is that of {quoted(earlier.id)}, which says {earlier.severity} "
            f"where this one says {one.severity}"
        )
        return Fault(("severity",), said, "one severity for one condition: join the two, or narrow one")
    return Fault(
        ("when",), f"the condition repeats that of {quoted(earlier.id)}", "one rule for one condition"
    )


def _twice_inside(when: When) -> Iterator[Fault]:
    for key in When.__struct_fields__:
        values: tuple[str, ...] = getattr(when, key)
        for place, value in enumerate(values):
            if value in values[:place]:
                yield Fault(("when", key, place), f"{quoted(value)} is listed twice in {key}", "each once")


def _about_liquids(when: When, entries: Entries) -> Iterator[Fault]:
    """Values of liquids, families, agents and hazards that no liquid can meet together with the rest.

    A single one of these keys contradicts nothing: a studio may add a liquid that meets it.
    """
    given = [key for key in ABOUT_LIQUID if getattr(when, key)]
    if len(given) < 2:
        return
    liquids = [one for one in entries.get("liquids", {}).values() if isinstance(one, Liquid)]
    meeting = [liquid for liquid in liquids if _meets(when, liquid, entries)]
    if not meeting:
        said = f"no liquid can meet {' and '.join(given)} at once, so the rule never applies"
        yield Fault(("when", given[0]), said, _EXPECTED)
        return
    for key in given:
        for place, value in enumerate(getattr(when, key)):
            alone = msgspec.structs.replace(when, **{key: (value,)})
            if not any(_meets(alone, liquid, entries) for liquid in meeting):
                others = " and ".join(other for other in given if other != key)
                said = f"{quoted(value)} in {key} can never be met, because of {others}"
                yield Fault(("when", key, place), said, _EXPECTED)


def _meets(when: When, liquid: Liquid, entries: Entries) -> bool:
    """Whether a liquid meets a condition, or may: what is not known of its label is no contradiction."""
    if liquid.classification is None:
        when = msgspec.structs.replace(when, hazards=())
    family = entries.get("families", {}).get(liquid.family)
    return meets(when, liquid, family if isinstance(family, Family) else None, labelled(liquid))


def _about_tapes(when: When, entries: Entries) -> Iterator[Fault]:
    """Tapes whose carrier or adhesive is not among the ones named beside them."""
    carriers, tapes = entries.get("carriers", {}), entries.get("tapes", {})
    for key, field, kinds in (("carriers", "carrier", carriers), ("adhesives", "adhesive", {})):
        named: tuple[str, ...] = getattr(when, key)
        # Any tape may have lost its carrier, so a rule about residue alone contradicts none.
        lost = (kinds.get(one) for one in named)
        if not named or any(isinstance(one, Carrier) and one.lets_liquid_through == "none" for one in lost):
            continue
        for place, id in enumerate(when.tapes):
            tape = tapes.get(id)
            if isinstance(tape, Tape) and getattr(tape, field) not in named:
                has = quoted(getattr(tape, field))
                said = f"the tape {quoted(id)} has the {field} {has}, which {key} leaves out"
                yield Fault(("when", "tapes", place), said, _EXPECTED)


def _about_stages(when: When, entries: Entries) -> Iterator[Fault]:
    """Stages that none of the adhesives meant goes through, as far as these describe their stages."""
    known, described = entries.get("tapes", {}), entries.get("adhesives", {})
    tapes = [tape for id in when.tapes if isinstance(tape := known.get(id), Tape)]
    named = when.adhesives or tuple(dict.fromkeys(tape.adhesive for tape in tapes))
    adhesives = [one for id in named if isinstance(one := described.get(id), Adhesive)]
    if not adhesives or not all(one.stages for one in adhesives):
        return
    gone_through = {row.stage for one in adhesives for row in one.stages}
    for place, stage in enumerate(when.stages):
        if stage not in gone_through:
            whose = ", ".join(one.id for one in adhesives)
            said = f"the stage {quoted(stage)} is none of those described for {whose}"
            yield Fault(("when", "stages", place), said, f"one of: {', '.join(sorted(gone_through))}")


T = TypeVar("T")
SIGNAL_WORDS = ("", "warning", "danger")
"""From weak to strong."""


def joined(shipped: Record, own: Record) -> tuple[Record, list[Fault]]:
    """The studio's entry with what it may not take away put back, and what to tell of that."""
    if isinstance(shipped, Liquid) and isinstance(own, Liquid):
        return _liquid(shipped, own)
    if isinstance(shipped, Caution) and shipped.severity == "stop" and own != shipped:
        said = f"{quoted(shipped.id)} is a stop that ships with the program; "
        said += "it stays and this entry does not count"
        return shipped, [Fault(("id",), said, "an id of its own for what is to be added")]
    if isinstance(shipped, Family) and isinstance(own, Family) and own.agent != shipped.agent:
        said = f"stops rest on {quoted(shipped.agent)}, the agent of the shipped entry; it stays"
        return msgspec.structs.replace(own, agent=shipped.agent), [Fault(("agent",), said)]
    return own, []


def _liquid(shipped: Liquid, own: Liquid) -> tuple[Record, list[Fault]]:
    made: dict[str, Any] = {}
    if shipped.classification is not None:
        made["classification"] = _hazards(shipped.classification, own.classification)
    if own.family != shipped.family:
        made["family"] = shipped.family
    for name in ("limits", "restrictions", "handling"):
        made[name] = _more(getattr(shipped, name), getattr(own, name))
    whole = msgspec.structs.replace(own, **made)
    changed = [name for name in made if getattr(whole, name) != getattr(own, name)]
    faults = [
        Fault((name,), f"the {name} of the shipped entry can be added to, not taken away; it stays")
        for name in changed
    ]
    return whole, faults


def _hazards(shipped: Classification, own: Classification | None) -> Classification:
    if own is None:
        return shipped
    lists = ("statements", "supplier_statements", "euh", "classes", "pictograms")
    return msgspec.structs.replace(
        own,
        signal_word=max(shipped.signal_word, own.signal_word, key=_strength),
        **{name: _more(getattr(shipped, name), getattr(own, name)) for name in lists},
    )


def _strength(word: str) -> int:
    low = word.lower()
    return SIGNAL_WORDS.index(low) if low in SIGNAL_WORDS else 0


def _more(shipped: tuple[T, ...], own: tuple[T, ...]) -> tuple[T, ...]:
    """The own ones, and behind them those of the shipped entry that are missing there."""
    return (*own, *(one for one in shipped if one not in own))
