"""The safety note of a liquid or blend, for screening; the data sheet of the bottle comes first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import msgspec

from kb.desk.materials.flash import blend_fire
from kb.desk.materials.limits import NONE_KNOWN, chosen_authority
from kb.desk.materials.liquid_records import liquid_of
from kb.desk.materials.mixing import danger_words, pairs_to_avoid, parting_words
from kb.desk.materials.protection import glove_lines, pictograms, precaution_lines, protection_sources
from kb.desk.materials.reading_words import limit_words
from kb.desk.studio import Studio
from kb.index.queries import entry
from kb.model.condition import base_code, labelled
from kb.model.guidance import Hazard
from kb.model.liquid import Liquid
from kb.model.question import Plain

__all__ = ["DEFER", "SafetyNote", "limit_words", "liquid_of", "safety_note", "sections"]

DEFER = (
    "Screening only. The safety data sheet of your bottle, local rules, a risk assessment and licensed "
    "practice come first. No figure here means: none known here, not: harmless."
)
LISTS_CHANGE = "Lists change; unverified means: not read in the list. Check the current one."


class SafetyNote(Plain, frozen=True, kw_only=True):
    """What to know before opening the bottle. ``limits`` are lines of text with their authority."""

    name: str
    signal_word: str
    statements: tuple[str, ...]
    limits: tuple[str, ...]
    fire: tuple[str, ...]
    restrictions: tuple[str, ...]
    defer: str
    pictograms: tuple[str, ...] = ()
    """Names in words with the code, such as ``flame (GHS02)``."""
    gloves: tuple[str, ...] = ()
    storage: tuple[str, ...] = ()
    incompatible: tuple[str, ...] = ()
    waste: tuple[str, ...] = ()
    breathing: tuple[str, ...] = ()
    first_aid: tuple[str, ...] = ()
    spill: tuple[str, ...] = ()
    cancer: tuple[str, ...] = ()
    """What bodies that judge evidence say; "not in the lists here" where none of them does."""
    people: tuple[str, ...] = ()
    """Pregnancy and young workers."""
    handling: tuple[str, ...] = ()
    """Fire at work and use, beside ``fire``, which holds the figures."""
    sources: tuple[str, ...] = ()
    """Ids of the sources behind the lines from ``gloves`` on."""


def safety_note(studio: Studio, parts: Mapping[str, float]) -> SafetyNote:
    """Hazards of every part together; a blend is never milder here than its worst part."""
    liquids = [found for part in parts if (found := liquid_of(studio, part)) is not None]
    statements: dict[str, str] = {}
    signs: dict[str, str] = {}
    words = []
    for liquid in liquids:
        for code in labelled(liquid):
            hazard = _hazard(studio, code)
            statements[code] = f"{code} {hazard.text if hazard else 'see the data sheet'}"
            signs[code] = hazard.pictogram if hazard else ""
            words.append(hazard.signal_word if hazard else "")
    return SafetyNote(
        name=" + ".join(liquid.name for liquid in liquids),
        signal_word="Danger" if "Danger" in words else "Warning" if "Warning" in words else "none",
        statements=tuple(statements.values()),
        limits=(
            *_of_each(liquids, lambda liquid: _limits(liquid, chosen_authority(studio))),
            *((LISTS_CHANGE,) if any(liquid.limits for liquid in liquids) else ()),
        ),
        fire=_of_each(liquids, _fire),
        restrictions=tuple(
            claim.text for liquid in liquids for claim in (*liquid.restrictions, *liquid.handling)
        ),
        defer=DEFER,
        pictograms=pictograms(tuple(signs), signs.items()),
        gloves=glove_lines(studio, liquids),
        storage=precaution_lines(studio, liquids, "storage"),
        incompatible=tuple(
            dict.fromkeys(
                (
                    *(pair.text for pair in pairs_to_avoid(studio, liquids)),
                    *precaution_lines(studio, liquids, "incompatible"),
                )
            )
        ),
        waste=precaution_lines(studio, liquids, "waste"),
        breathing=precaution_lines(studio, liquids, "breathing"),
        first_aid=precaution_lines(studio, liquids, "first aid"),
        spill=precaution_lines(studio, liquids, "spill"),
        cancer=_of_each(liquids, _cancer),
        people=precaution_lines(studio, liquids, "people"),
        handling=(
            *danger_words(studio, parts),
            *parting_words(studio, parts),
            *blend_fire(studio, parts),
            *precaution_lines(studio, liquids, "fire"),
            *precaution_lines(studio, liquids, "use"),
        ),
        sources=protection_sources(studio, liquids),
    )


def sections(note: SafetyNote) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Headings and lines in the order of reading; an empty part says that nothing is known here."""
    nothing = ("nothing known here; read the data sheet",)
    return (
        ("Pictograms", ("; ".join(note.pictograms) or "none known here; look at the label",)),
        ("Hazards", note.statements or nothing),
        ("Cancer", note.cancer or nothing),
        ("Limits in air", note.limits or (NONE_KNOWN,)),
        ("Fire", (*note.fire, *note.handling) or nothing),
        ("Gloves", note.gloves or nothing),
        ("Breathing", note.breathing or nothing),
        ("First aid", note.first_aid or nothing),
        ("Spill", note.spill or nothing),
        ("Storage", note.storage or nothing),
        ("Keep apart from", note.incompatible or nothing),
        ("Waste", note.waste or nothing),
        ("Pregnancy and young workers", note.people or nothing),
        ("Rules and handling", note.restrictions or nothing),
    )


def _of_each(liquids: Sequence[Liquid], lines: Callable[[Liquid], Iterable[str]]) -> tuple[str, ...]:
    """Lines of every part; only a blend says whose each is, for a card of one liquid has its name on top."""
    alone = len(liquids) == 1
    return tuple(line if alone else f"{liquid.name}: {line}" for liquid in liquids for line in lines(liquid))


def _hazard(studio: Studio, code: str) -> Hazard | None:
    for wanted in (code.split(" ", 1)[0], base_code(code)):
        row = entry(studio.index.conn, "hazard", wanted)
        if row:
            return msgspec.json.decode(row.body, type=Hazard)
    return None


def _limits(liquid: Liquid, authority: str) -> list[str]:
    """Exposure limits, the studio's authority first; "no limit known here" where there is none."""
    if not liquid.limits:
        return [NONE_KNOWN]
    chosen = [limit for limit in liquid.limits if limit.authority == authority]
    first = [f"no {authority} limit known here"] if authority and not chosen else []
    return first + [limit_words(limit, advice=False) for limit in chosen or liquid.limits]


def _cancer(liquid: Liquid) -> list[str]:
    if not liquid.evaluations:
        return ["no evaluation known here, which does not mean none was made"]
    return [
        f"{row.body}{f' {row.year}' if row.year else ''}"
        f"{'' if row.group in row.words else f', group {row.group}'}: {row.words}"
        for row in liquid.evaluations
    ]


def _fire(liquid: Liquid) -> list[str]:
    flash, low, high = (
        liquid.flash_point_c,
        liquid.lower_explosive_limit_vol_pct,
        liquid.upper_explosive_limit_vol_pct,
    )
    if flash is None and low is None:
        return ["no fire figures known here"]
    parts = []
    if flash is not None:
        parts.append(f"flash point {flash.least:g} °C" if flash.least is not None else flash.none_known)
    if low is not None and low.least is not None:
        upper = f" to {high.most:g}" if high is not None and high.most is not None else ""
        parts.append(f"explosive range {low.least:g}{upper} % by volume")
    return [", ".join(parts)]
