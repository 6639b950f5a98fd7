"""What the tape may be, where it is not known: the answer is averaged over it."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import msgspec

from kb.desk.studio import Studio
from kb.index.queries import parts_of, record
from kb.index.rows import NO_CARRIER, WHOLE
from kb.model.question import Possible, Question

LOOSE_STAGE = "aged"
"""The stage of what has aged without one of its own. Of a tape that is not known it says that it is no longer
fresh, and beside a stage that is described nothing more."""
FRESH = "fresh"
"""The first stage of what has no stages of its own. Said of a tape that is not known it is the first of any:
rubber calls it induction, and every rubber tape fell out of the average."""
LEAST = 0.02
"""Possibilities less likely than this are left out of the average. This project's own."""

SURE = 0.8
"""From this chance of one adhesive on, a further look at the tape is not asked for. This project's own."""
CLEAR_STAGE = 0.7
"""From this chance of one stage on it is taken from what is seen of a known adhesive. This project's own."""
SIGHTS = frozenset(("tack", "hardness", "adhesive-colour", "layer", "oil", "halo"))
SIGHTS_OF_STRIP = frozenset(("made-of", "colour", "gloss", "weave", "crinkled", "thickness"))
"""Looks that one may ask for before any other: eye, fingertip and needle, with nothing taken off or torn."""
ALL_LOOKS, LOOKS_KEPT = 100, 32


class Component(NamedTuple):
    """One thing the tape may be: its weight, and the question as if it were known to be that."""

    weight: float
    question: Question


def components(studio: Studio, question: Question) -> list[Component]:
    """What to average over, the likeliest first; weights sum to 1.

    A known adhesive is one component. Else it is what the signs left possible, or any listed tape if
    nothing was looked at; a known stage or carrier narrows it.
    """
    if question.adhesive:
        return [Component(1.0, question)]
    stages = studio.compiled.stages
    listed: Iterable[Possible] = question.may_be or possible_from(studio, {})
    carrier = "" if question.carrier == NO_CARRIER else question.carrier
    rare = bool(carrier) and not any(one.carrier in {"", carrier} for one in listed if one.adhesive)
    if rare:
        # Too seldom met to be on the list, and yet it is what is seen.
        listed = possible_from(studio, dict(sign.split("=", 1) for sign in question.signs), least=0.0)
    possible = _narrowed(listed, question, stages)
    least = LEAST * sum(one.weight for one in possible) if rare else LEAST
    seen = "" if question.stage == LOOSE_STAGE else question.stage
    weights: dict[tuple[str, str, str], float] = {}
    for one in possible:
        # What was seen on this tape is surer than what such a tape usually is.
        key = (one.adhesive, seen or one.stage or question.stage, question.carrier or one.carrier)
        if not question.may_be:
            # With nothing looked at, carriers differ too little to be worth an average each.
            key = (key[0], key[1], question.carrier)
        weights[key] = weights.get(key, 0.0) + one.weight
    most = max(weights.values(), default=0.0)
    kept = sorted(
        # The likeliest stays even if it is less than the least: something must be averaged over.
        ((weight, key) for key, weight in weights.items() if weight >= min(least, most)),
        key=lambda pair: (-pair[0], pair[1]),
    )
    total = sum(weight for weight, _ in kept)
    # A catalogue without tapes: the question is asked as it stands.
    if not total:
        return [Component(1.0, question)]
    return [
        Component(
            weight / total, msgspec.structs.replace(question, adhesive=adhesive, stage=stage, carrier=carrier)
        )
        for weight, (adhesive, stage, carrier) in kept
    ]


def _narrowed(possible: Iterable[Possible], question: Question, stages: Mapping[str, int]) -> list[Possible]:
    """Those that agree with a carrier or stage that is known; all, if none does."""
    found = list(possible)
    # Any carrier may be gone, and what it left is no transfer tape for that.
    carrier = "" if question.carrier == NO_CARRIER else question.carrier
    for value, field in ((carrier, "carrier"), (question.stage, "stage")):
        if value == LOOSE_STAGE:
            agreeing = [one for one in found if stages.get(one.stage) != 0]
        elif value == FRESH:
            agreeing = [one for one in found if stages.get(one.stage) == 0]
        else:
            agreeing = [one for one in found if getattr(one, field) == value]
        if value and agreeing:
            # If nothing agrees, what was seen contradicts the list; the list is kept and the contradiction
            # is not hidden by an empty answer.
            found = agreeing
    return found


def possible_from(studio: Studio, findings: dict[str, str], least: float = 0.01) -> list[Possible]:
    """What a tape with these signs may be, as far as it is not less likely than ``least``."""
    from kb.desk.identify.identify import adhesive_mix, identify

    return [
        Possible(adhesive=adhesive, stage=stage, carrier=carrier, weight=weight)
        for adhesive, stage, carrier, weight in adhesive_mix(identify(studio, findings), least)
    ]


def stage_seen(studio: Studio, adhesive: str, findings: Mapping[str, str]) -> str:
    """The stage that these findings tell of on a tape with that adhesive; empty where they leave it open."""
    from kb.desk.identify.identify import identify

    weights: dict[str, float] = {}
    for tape in identify(studio, findings).ranked:
        if tape.adhesive == adhesive:
            for one in tape.stages:
                weights[one.stage] = weights.get(one.stage, 0.0) + tape.p * one.p
    total = sum(weights.values())
    if not total:
        return ""
    likeliest = max(weights, key=lambda stage: (weights[stage], stage))
    if weights[likeliest] >= CLEAR_STAGE * total:
        return likeliest
    positions = studio.compiled.stages
    fresh = sum(weight for stage, weight in weights.items() if positions.get(stage) == 0)
    return LOOSE_STAGE if fresh <= LEAST * total else ""


def look_first(studio: Studio, question: Question, may_be: Iterable[Component]) -> str:
    """The look at the tape that tells most, where it is far from sure what holds it; else empty.

    A look marks nothing, and on an average over glues as unlike as paste and rubber every liquid is a guess.
    """
    chances: dict[str, float] = {}
    for weight, one in may_be:
        chances[one.adhesive] = chances.get(one.adhesive, 0.0) + weight
    # Of glues that share a name the signs of tapes tell nothing.
    shared = question.may_be and not question.signs
    if question.adhesive or shared or max(chances.values(), default=1.0) >= SURE:
        return ""
    # A carrier that is known, or gone, need not be looked at.
    known = bool(question.carrier)

    def found() -> str:
        from kb.desk.identify.identify import identify

        looks = identify(studio, dict(sign.split("=", 1) for sign in question.signs), ALL_LOOKS).next_looks
        first = next(
            (one for one in looks if one.look in SIGHTS or (one.look in SIGHTS_OF_STRIP and not known)), None
        )
        if first is None:
            return ""
        # Some looks are asked, others named.
        rest = (
            f" {first.how}" if first.question.endswith("?") else f": {first.how[:1].lower()}{first.how[1:]}"
        )
        return f"See what it is before any liquid: {first.question}{rest}"

    return studio.compiled.kept("look first", (question.signs, known), found, LOOKS_KEPT)


def with_signs(studio: Studio, question: Question, findings: dict[str, str]) -> Question:
    """The question of a tape that shows these findings; as it is where the adhesive is known."""
    if question.adhesive or not findings:
        return question
    return msgspec.structs.replace(
        question, may_be=tuple(possible_from(studio, findings)), signs=signs_of(findings)
    )


def one_of(question: Question, adhesives: list[str]) -> Question:
    """The tape may bear any of these, each as likely; as it is where the adhesive is known."""
    if question.adhesive or not adhesives:
        return question
    may_be = (Possible(adhesive=one, stage="", carrier="", weight=1.0 / len(adhesives)) for one in adhesives)
    return msgspec.structs.replace(question, may_be=tuple(may_be))


def of_carrier(studio: Studio, question: Question) -> tuple[Question, str]:
    """What no listed tape bears, silk or a laminate, is held by its usual adhesives, each as likely; and that
    it was taken so. An average over tapes had heptane lead on pasted silk.

    As it is, and empty, where the adhesive is known, or a tape bears it.
    """
    compiled, carrier = studio.compiled, question.carrier
    if question.adhesive or not carrier or any(one[2] == carrier for one in compiled.tapes.values()):
        return question, ""
    # What a question that names an adhesive need not load.
    from kb.desk.choose.words import either, within
    from kb.model.material import Carrier

    found = record(studio.index.conn, "carrier", carrier, Carrier)
    if found is None or not found.usual_adhesives:
        return question, ""
    held_by = either([within(compiled.adhesives[one].name) for one in found.usual_adhesives])
    said = f" Taken as held by {held_by}, as is usual of {within(found.name)}."
    return one_of(question, list(found.usual_adhesives)), said


def from_sheet(studio: Studio, question: Question) -> Question:
    """What the tape was identified as when that was kept with the sheet, where the question says nothing."""
    # The question says more than the sheet: it was typed later.
    if question.adhesive or question.may_be or not question.sheet:
        return question
    from kb.index.kept_rows import kept

    rows = kept(studio.index.conn, "sheet", question.sheet)
    # The last record, where two benches founded the sheet.
    if not rows or not rows[-1].body.may_be:
        return question
    sheet = rows[-1].body
    return msgspec.structs.replace(question, may_be=from_record(sheet.may_be), signs=sheet.signs)


def with_media(question: Question, other: Question) -> Question:
    """The same question with the media of another."""
    if question.reach == other.reach:
        return question
    return msgspec.structs.replace(
        question, medium=other.medium, also_media=other.also_media, back_media=other.back_media
    )


def signs_of(findings: dict[str, str]) -> tuple[str, ...]:
    """Findings as they stand in a record: ``gloss=glossy``; what could not be looked at says nothing."""
    # A look that was tried and told nothing is no sign.
    return tuple(f"{look}={finding}" for look, finding in findings.items() if finding != "?")


def for_record(question: Question) -> dict[str, float]:
    """What the tape may be as a record keeps it; empty where the adhesive is known."""
    if question.adhesive:
        return {}
    found: dict[str, float] = {}
    for one in question.may_be:
        key = f"{one.adhesive}/{one.stage}/{one.carrier}"
        # Two signs may lead to one and the same thing.
        found[key] = found.get(key, 0.0) + one.weight
    return found


def from_record(may_be: dict[str, float]) -> tuple[Possible, ...]:
    """What :func:`for_record` kept, the likeliest first."""
    found = []
    for key, weight in sorted(may_be.items(), key=lambda pair: (-pair[1], pair[0])):
        adhesive, stage, carrier = key.split("/")
        found.append(Possible(adhesive=adhesive, stage=stage, carrier=carrier, weight=weight))
    return tuple(found)


def in_part(studio: Studio, may_be: Iterable[Component]) -> dict[str, float]:
    """By liquid, how many tests' worth lies on tapes not known for sure that may bear a glue asked about.

    They are in the sums that the chances come from (kb.index.tally.PART) and in no raw count, so that what is
    said of the log has to name them apart.
    """
    adhesives = sorted({one.question.adhesive for one in may_be if one.question.adhesive})
    return {liquid: grades / WHOLE for liquid, grades in parts_of(studio.index.conn, adhesives)}
