"""Checks across entries: every reference leads somewhere, and no name means two things."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple

from kb.catalogue.problems import Fault, NodePath, Part, an, fields, nearest, quoted
from kb.model.base import Record
from kb.model.guidance import Report, ReportedLiquid, When
from kb.model.identification import Sign
from kb.model.kinds import BY_KEY
from kb.model.liquid import Classification, ExposureLimit, Family, Liquid, MixSide
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
