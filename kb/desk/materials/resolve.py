"""From what a person types to the id of a catalogue entry.

What typed words were taken for, said back wherever something is stored or a danger is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import SimpleNamespace
from typing import Any

from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.studio import Studio
from kb.index.queries import entry
from kb.index.search import exactly, find
from kb.model.kinds import plain_id
from kb.model.question import Question
from kb.science.liquids.blends import normalise, parse_blend

UNKNOWN = ("", "unknown", "?", "not known")


def resolve(studio: Studio, word: str, text: str) -> str:
    """The id of the ``word`` (adhesive, tape, liquid ...) that ``text`` names.

    Only an exact id, name, other name or CAS number is taken: benzine is one letter from benzene. Raises
    :class:`Unclear` with the entries that bear the name if several do, and with the nearest in spelling if
    none does.
    """
    conn = studio.index.conn
    bearers = exactly(conn, text, word)
    if len(bearers) == 1:
        return bearers[0].id
    found = bearers or find(conn, text, (word,), limit=6)
    raise Unclear(word, text, tuple(Choice(hit.id, hit.name) for hit in found), borne=bool(bearers))


def optional(studio: Studio, word: str, text: str) -> str:
    """As :func:`resolve`; nothing, "unknown" or "?" gives the empty id."""
    return "" if text.strip().lower() in UNKNOWN else resolve(studio, word, text)


def carrier(studio: Studio, text: str) -> str:
    """As :func:`optional` for a carrier; "none" means the adhesive without a carrier."""
    if plain_id(text) in {"none", "residue", "residue-only"}:
        return "none-transfer"
    return optional(studio, "carrier", text)


def question(
    studio: Studio,
    *,
    tape: str = "",
    adhesive: str = "",
    carrier_text: str = "",
    stage: str = "",
    medium: str = "",
    paper: str = "",
    method: str = "",
    sheet: str = "",
    also_media: Sequence[str] = (),
    back_media: Sequence[str] = (),
) -> Question:
    """A question from typed words. A tape fills in its adhesive and carrier."""
    tape_id = optional(studio, "tape", tape)
    _, tape_adhesive, tape_carrier = studio.compiled.tapes.get(tape_id, ("", "", ""))
    return Question(
        tape=tape_id,
        adhesive=optional(studio, "adhesive", adhesive) or tape_adhesive,
        carrier=carrier(studio, carrier_text) or tape_carrier,
        stage=optional(studio, "stage", stage),
        medium=optional(studio, "medium", medium),
        paper=optional(studio, "paper", paper),
        method=optional(studio, "method", method) or "swab",
        sheet=sheet.strip(),
        also_media=tuple(optional(studio, "medium", one) for one in also_media),
        back_media=tuple(optional(studio, "medium", one) for one in back_media),
    )


def parts(studio: Studio, liquid: str = "", blend: str = "") -> dict[str, float]:
    """Volume shares by liquid id, from one liquid's name or from a blend such as "acetone 1, water 3"."""
    if bool(liquid.strip()) == bool(blend.strip()):
        raise DeskError("Name either one liquid or one blend.")
    if liquid.strip():
        return {resolve(studio, "liquid", liquid): 1.0}
    try:
        typed = parse_blend(blend)
    except ValueError as error:
        raise DeskError(f"{error}") from error
    found: dict[str, float] = {}
    for name, share in typed.items():
        known = resolve(studio, "liquid", name)
        found[known] = found.get(known, 0.0) + share
    return normalise(found)


KINDS = ("tape", "adhesive", "stage", "carrier", "medium", "paper", "method", "recipe", "tissue")
"""Fields of records that hold the id of an entry of the kind they are named after."""


def liquids(studio: Studio, parts: Mapping[str, float]) -> str:
    """``Benzene [benzene, CAS 71-43-2]``; of a blend every part with its share by volume."""
    said = []
    for liquid, share in parts.items():
        row = entry(studio.index.conn, "liquid", liquid)
        cas = _cas(row.body) if row else ""
        named = f"{row.name if row else liquid} [{liquid}{f', CAS {cas}' if cas else ', no CAS number'}]"
        said.append(named if len(parts) == 1 else f"{share * 100:.4g} % {named}")
    return " + ".join(said)


def understood(studio: Studio, body: Any) -> tuple[str, ...]:
    """One line for each entry of the catalogue that a record names: ``medium: Iron gall ink [iron-gall]``."""
    said = []
    parts = getattr(body, "parts", None)
    single = getattr(body, "liquid", "")
    if parts or single:
        said.append(f"liquid: {liquids(studio, parts or {single: 1.0})}")
    for kind in KINDS:
        named = getattr(body, kind, "")
        # A mend is made with a paste, which is a recipe, or with an adhesive of the catalogue.
        for word in ("recipe", kind) if named and kind == "adhesive" else (kind,) if named else ():
            if row := entry(studio.index.conn, word, named):
                said.append(f"{kind}: {row.name} [{row.id}]")
                break
    return tuple(said)


def understood_of(studio: Studio, changes: Mapping[str, Any]) -> tuple[str, ...]:
    """The same for an amendment: only what it names anew."""
    return understood(studio, SimpleNamespace(**changes))


def _cas(body: bytes) -> str:
    from msgspec import json

    return str(json.decode(body).get("cas", ""))
