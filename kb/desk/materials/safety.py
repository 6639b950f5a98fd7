"""The safety note of a liquid or blend, for screening; the data sheet of the bottle comes first.

What protects people from a liquid or blend: pictograms in words, gloves, and precautions by topic.

The flash point of a blend, by the rule that its most flammable part of 5 % or more decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

from kb.desk.materials.limits import NONE_KNOWN, chosen_authority
from kb.desk.materials.mixing import danger_words, pairs_to_avoid, parting_words
from kb.desk.materials.physical import Physical, liquid_of, physical
from kb.desk.materials.reading_words import PICTOGRAMS, limit_words
from kb.desk.studio import Studio
from kb.index.queries import record, records
from kb.model.guidance import Hazard
from kb.model.liquid import Family, Liquid, base_code, labelled, meets
from kb.model.protection import Glove, GloveFigure, Precaution, Topic
from kb.model.question import Plain
from kb.science.air.flammability import BlendFlash, FlashPart, blend_flash_point

T = TypeVar("T", Glove, Precaution)
CHART = (
    "Check the maker's chart for this very glove and liquid; in a blend the part that breaks through "
    "soonest counts."
)
ACUTE, SKIN_EYE = ("H302", "H312", "H332"), ("H315", "H319")


def pictograms(codes: Sequence[str], signs: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Names of the pictograms, each once, for statement codes and the sign that each carries.

    Skull, corrosion and health hazard make the exclamation mark fall away for what they cover (Article 26
    of Regulation (EC) No 1272/2008, from memory).
    """
    pairs = [(code[:4], sign) for code, sign in signs if sign]
    found = {sign for _, sign in pairs}
    covered: set[str] = set()
    if "GHS06" in found:
        covered.update(ACUTE)
    if "GHS05" in found:
        covered.update(SKIN_EYE)
    if any(code.startswith("H334") for code in codes):
        covered.update((*SKIN_EYE, "H317"))
    kept = {sign for code, sign in pairs if sign != "GHS07" or code not in covered}
    return tuple(f"{PICTOGRAMS.get(sign, 'sign')} ({sign})" for sign in sorted(kept))


def glove_lines(studio: Studio, liquids: Sequence[Liquid]) -> tuple[str, ...]:
    """Polymers named for every part, those to avoid with minutes where a source prints them.

    A figure for the very liquid goes before the rule for its family: butyl rubber holds a polar liquid
    whose family no class list names, and thin nitrile fails with methanol although it serves alcohols.
    """
    gloves = _all(studio, "glove", Glove)
    if not liquids:
        return ()
    judged = {glove.id: [_holds(glove, liquid) for liquid in liquids] for glove in gloves}
    good = [glove for glove in gloves if all(holds is True for holds, _ in judged[glove.id])]
    bad = [
        (glove, words)
        for glove in gloves
        if (words := [words for holds, words in judged[glove.id] if holds is False])
    ]
    said = []
    if good:
        said.append("Named for it: " + "; ".join(_glove(glove) for glove in good) + ".")
    else:
        whole = "all of it" if len(liquids) > 1 else "it"
        said.append(f"No polymer is named here for {whole}: none known here, ask the glove maker.")
    if bad:
        listed = (f"{glove.name}{''.join(f' ({one})' for one in words if one)}" for glove, words in bad)
        said.append(f"Avoid: {', '.join(listed)}.")
    silent = [
        liquid.name
        for place, liquid in enumerate(liquids)
        if not any(judged[glove.id][place][0] for glove in gloves)
    ]
    if silent:
        said.append(f"No class list here speaks of {', '.join(silent)}.")
    return (*said, CHART)


def _holds(glove: Glove, liquid: Liquid) -> tuple[bool | None, str]:
    """Whether a polymer is named for a liquid (None: not spoken of), and breakthrough in words."""
    figures = [figure for figure in glove.tested if liquid.id in figure.liquids]
    # A warning from any source wins over a recommendation from another.
    for figure in sorted(figures, key=lambda figure: figure.holds):
        return figure.holds, _minutes(liquid, figure)
    if liquid.family in glove.fails:
        return False, ""
    return (True if liquid.family in glove.serves else None), ""


def _minutes(liquid: Liquid, figure: GloveFigure) -> str:
    low, high = figure.minutes_low, figure.minutes_high
    if high is None:
        return f"{liquid.name}: {figure.note.rstrip('.')}" if figure.note else ""
    span = f"{low:g} to {high:g}" if low is not None else f"under {high:g}"
    note = f"; {figure.note.rstrip('.')}" if figure.note else ""
    return f"{liquid.name} breaks through in {span} min{note}"


def _glove(one: Glove) -> str:
    return f"{one.name} ({one.note.rstrip('.')})" if one.note else one.name


def precaution_lines(studio: Studio, liquids: Sequence[Liquid], topic: Topic) -> tuple[str, ...]:
    """The lines of one topic that any part calls for, each once, general ones last."""
    called = {rule.id for liquid in liquids for rule in _rules(studio, liquid) if rule.topic == topic}
    return tuple(rule.text for rule in _all(studio, "precaution", Precaution) if rule.id in called)


def _rules(studio: Studio, liquid: Liquid) -> tuple[Precaution, ...]:
    """The precautions that a liquid calls for; kept, since lists of liquids ask again and again."""

    def find() -> tuple[Precaution, ...]:
        family, statements = _family(studio, liquid.family), labelled(liquid)
        rules = _all(studio, "precaution", Precaution)
        return tuple(rule for rule in rules if meets(rule.when, liquid, family, statements))

    return studio.compiled.kept(f"precautions {liquid.id}", None, find)


def protection_sources(studio: Studio, liquids: Sequence[Liquid]) -> tuple[str, ...]:
    """Ids of the sources behind gloves and precautions for these liquids."""
    found: dict[str, None] = {}
    families = {liquid.family for liquid in liquids}
    for glove in _all(studio, "glove", Glove):
        if families & {*glove.serves, *glove.fails}:
            found.update(dict.fromkeys(glove.sources))
        for figure in glove.tested:
            if not {liquid.id for liquid in liquids}.isdisjoint(figure.liquids):
                found.update(dict.fromkeys(figure.sources))
    for liquid in liquids:
        for rule in _rules(studio, liquid):
            found.update(dict.fromkeys(rule.sources))
    return tuple(found)


def _family(studio: Studio, family_id: str) -> Family | None:
    return studio.compiled.kept(
        f"family {family_id}", None, lambda: record(studio.index.conn, "family", family_id, Family)
    )


def _all(studio: Studio, word: str, kind: type[T]) -> list[T]:
    """Every entry of a kind, general ones last."""

    def read() -> list[T]:
        return sorted(records(studio.index.conn, word, kind), key=lambda one: (_general(one), one.id))

    return studio.compiled.kept(f"all {word}", None, read)


def _general(one: Glove | Precaution) -> bool:
    return isinstance(one, Precaution) and not any(
        getattr(one.when, name) for name in one.when.__struct_fields__
    )


RULE = "the lowest of the parts from 5 % on; a caution, not a measurement"


def blend_fire(studio: Studio, parts: Mapping[str, float]) -> tuple[str, ...]:
    """One line on the flash point of a blend; none for a pure liquid, whose own figure says it."""
    if len(parts) < 2:
        return ()
    liquids = [physical(studio, part) for part in parts]
    return (f"The blend: {flash_words(flash_of(liquids, dict(parts)), {one.id: one for one in liquids})}.",)


def flash_of(liquids: Sequence[Physical], shares: dict[str, float]) -> BlendFlash:
    return blend_flash_point(
        [
            FlashPart(
                name=one.id,
                share=shares[one.id],
                flash_c=one.flash_c,
                never_flashes=one.never_flashes,
                halogenated=one.family == "chlorinated-hydrocarbon",
                aqueous=one.id == "water",
            )
            for one in liquids
        ]
    )


def flash_words(flash: BlendFlash, known: Mapping[str, Physical]) -> str:
    """The flash point of a blend in words, with what the rule lets go and does not know."""

    def called(ids: Sequence[str]) -> str:
        return ", ".join(known[one].name if one in known else one for one in ids)

    if flash.flash_c is None:
        said = "no part of 5 % or more has a flash point known here"
    else:
        said = f"taken to flash at {flash.flash_c:g} °C, that of {called([flash.decided_by])} ({RULE})"
    if flash.unknown:
        said += f"; flash point not known here: {called(flash.unknown)}"
    if flash.small_parts:
        said += f"; below 5 %, but flashes lower: {called(flash.small_parts)}"
    for caution in flash.cautions:
        # The rule speaks of ids; a person reads names.
        said += "; " + " ".join(_named(word, known) for word in caution.split(" "))
    return said


def _named(word: str, known: Mapping[str, Physical]) -> str:
    bare = word.rstrip(",")
    return known[bare].name + word[len(bare) :] if bare in known and bare != "water" else word


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
    loud = tuple(line for line in note.handling if line.startswith(("STOP", "WARNING")))
    return (
        *((("Not together", loud),) if loud else ()),
        ("Pictograms", ("; ".join(note.pictograms) or "none known here; look at the label",)),
        ("Hazards", note.statements or nothing),
        ("Cancer", note.cancer or nothing),
        ("Limits in air", note.limits or (NONE_KNOWN,)),
        ("Fire", (*note.fire, *(one for one in note.handling if one not in loud)) or nothing),
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
        if found := record(studio.index.conn, "hazard", wanted, Hazard):
            return found
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
