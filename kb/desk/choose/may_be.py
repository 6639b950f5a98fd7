"""What the tape may be, where it is not known: the answer is averaged over it."""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import msgspec

from kb.desk.choose import lexicon as lex
from kb.desk.errors import DeskError, Unclear
from kb.desk.studio import Studio
from kb.index.queries import parts_of
from kb.index.rows import NO_CARRIER, WHOLE
from kb.model.question import Possible, Question

LOOSE_STAGE = "aged"
"""The stage of what has aged without one of its own. Of a tape that is not known it says that it is no longer
fresh, and beside a stage that is described nothing more."""
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
SOLUBLE = r"solubl|solvent|dissol|aqueous|\bfilms?\b|proof|sensitive"
"""Words that were not understood and speak against a glue that water softens, unless it does so."""
OF_ANY_GLUE = frozenset(
    ("dried", "dry", "thick", "thin", "dirty", "crusty", "lot", "excess", "water", "soluble")
)
"""Words that were not understood and are said of any glue."""
MOST_SEEN = 4
"""Words in the longest finding that is looked for."""


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


def usual_glues(
    studio: Studio, question: Question, findings: Mapping[str, str], said: Sequence[str], left: Iterable[str]
) -> list[str]:
    """What a glue is taken for that is not named; empty where a tape is spoken of, or was written down.

    ``said``: the words of the line; ``left``: those that were not understood, with what is denied.
    """
    # The residue of a tape has no carrier either, and then the tape is spoken of.
    if question.carrier not in {"", NO_CARRIER} or not lex.OF_STICKING.isdisjoint(findings.items()):
        return []
    left = list(left)
    denied = [one.casefold() for one in left if lex.is_denial(one)]
    plain = (one.partition(" (")[0].casefold() for one in left if one.casefold() not in denied)
    unknown = {word for one in plain for word in (one, *one.split())} - lex.GLUE
    words, not_words = [one.casefold() for one in said], " ".join(denied).split()
    # What was on film is no paste either.
    of_tape, not_tape = (sum(one in {*lex.TAPED, "film"} for one in some) for some in (words, not_words))
    if of_tape > not_tape or _taped(studio, question.sheet) or _other_glue(studio, words, unknown, denied):
        return []
    ruled_out = glues_in(studio, denied)
    usual = [one for one in lex.GLUES if one in studio.compiled.adhesives and one not in ruled_out]
    # Of what is usual one alone is no average, and nobody said that it is the one.
    return usual if len(usual) > 1 else []


def _other_glue(studio: Studio, words: Sequence[str], unknown: set[str], denied: Sequence[str]) -> bool:
    """Whether a glue is qualified by what was not understood, so that it may be none that water softens."""
    from kb.index.search import exactly

    line, refused = " ".join(words).replace("-", " "), " ".join(denied)
    # What is not proof against water is what it softens.
    refused = re.sub(r"water ?-?proof", "", refused)
    by_water = re.search(r"water soluble|\bsoluble in water", line) and not re.search("water|solubl", refused)
    if re.search(SOLUBLE, " ".join((*unknown, refused))) and not by_water:
        return True
    # What makes the name of another glue says that it is one, wherever in the line it stands: "contact".
    names = (f"{one} {noun}" for one in unknown for noun in ("glue", "cement", "adhesive"))
    if any(hit.id not in lex.GLUES for name in names for hit in exactly(studio.index.conn, name, "adhesive")):
        return True
    any_glue = {*lex.SIGNS, *OF_ANY_GLUE, *(name.split()[0].casefold() for name in lex.GLUES.values())}
    asks = (unknown | {_core(one) for one in denied if " " not in one}) - any_glue
    # "Glue is very waxy": what joins is passed over, but not what leads on to another thing.
    passed = (lex.HOW - lex.JOINS - {"but"}) | {"type", "kind", "based", "like"}
    for at in (place for place, one in enumerate(words) if one in lex.GLUE):
        for side in (reversed(words[:at]), words[at + 1 :]):
            near = next((one for one in side if one not in passed), "")
            if asks & {near, _core(near), *near.split("-")}:
                return True
    return False


def _core(word: str) -> str:
    """What a word denies by its form: "unyellowed"."""
    return word.removeprefix("non-").removeprefix("un").removesuffix("-free")


def glues_in(studio: Studio, phrases: Iterable[str]) -> set[str]:
    """The glues that are named in these phrases, of the usual ones also by half their name ("not animal")."""
    from kb.index.search import exactly

    halves = {name.split()[0].casefold(): one for one, name in lex.GLUES.items()}
    found: set[str] = set()
    for phrase in phrases:
        # What the paper is not sized with may be the glue all the same.
        words = re.split("[ -]", re.sub(rf"\S+-(?:{'|'.join(lex.NO_GLUE)})\b", "", phrase.casefold()))
        found |= {halves[one] for one in words if one in halves}
        for first in range(len(words)):
            names = (" ".join(words[first:end]) for end in range(first + 1, first + 1 + MOST_SEEN))
            found |= {hit.id for name in names for hit in exactly(studio.index.conn, name, "adhesive")}
    # Flour is starch for the most part, and a test for the one answers the other.
    return found | ({"flour-paste"} if "starch-dextrin" in found else set())


def _taped(studio: Studio, name: str) -> bool:
    """Whether anything was written down of a tape on the sheet of this name; empty for none."""
    if not name:
        return False
    from kb.index.kept_rows import kept

    known = [row.body for row in kept(studio.index.conn, "sheet", name)[-1:]]
    told = any(one.tapes or one.identified or one.signs or one.may_be for one in known)
    return told or bool(kept(studio.index.conn, "strip", name))


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


class Seen(NamedTuple):
    """Finding by look, what was understood in the order it was said, and the words that were not."""

    findings: dict[str, str]
    understood: tuple[lex.Said, ...]
    left: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What was understood and what was not."""
        text = "; ".join(f"{one.words} = {one.meant}" for one in self.understood)
        said = f"Understood: {text}." if text else "No finding was understood."
        return f"Not understood and left out: {', '.join(self.left)}. {said}" if self.left else said


def seen(studio: Studio, text: str) -> Seen:
    """Findings in a line of what one sees: words for signs as in a question, and the findings' own names."""
    from kb.desk.choose.grammar import denied_to
    from kb.desk.identify.identify import sign_words

    words, clause_of = lex.in_clauses(lex.tackless(text))
    found = Seen({}, (), ())
    at = 0
    while at < len(words):
        length, sign = _sign_at(studio, words, clause_of, at)
        denied = denied_to(words, clause_of, at, partial(_seen_at, studio, words, clause_of)) - at
        # "Hardly" is a finding by itself, and in "hardly yellowed" it is none.
        if sign is None or (length == 1 and denied > 1):
            length, sign = max(length, denied), None
        phrase = " ".join(words[at : at + length])
        if sign is not None and found.findings.setdefault(*sign) == sign[1]:
            said = lex.Said(phrase, sign_words(studio, *sign), sign=True)
            found = found._replace(understood=(*found.understood, said))
        elif sign is not None or not lex.is_link(phrase.casefold()):
            found = found._replace(left=(*found.left, phrase))
        at += length
    return found


def _sign_at(
    studio: Studio, words: list[str], clause_of: list[int], at: int
) -> tuple[int, tuple[str, str] | None]:
    """How many words belong together here, and the look and finding that they mean."""
    from kb.desk.identify.identify import signs

    # A finding may be named by a denial ("no smell"): its own name goes first.
    for length in range(min(MOST_SEEN, len(words) - at), 0, -1):
        phrase = " ".join(words[at : at + length])
        if length == 1 and lex.is_link(phrase.casefold()):
            break
        # All that is said here is of a tape: "brown paper" is what the strip is of.
        of_it = clause_of[at : at + 2] == [clause_of[at]] * 2 and words[at + 1 : at + 2] not in lex.OF_GLUE
        near = [*words[at : at + 2], "tape"] if of_it else words[at : at + 3]
        if length == 1 and (sign := lex.sign_at(near, 0)):
            return 1, sign
        try:
            asked = f"year={phrase}" if re.fullmatch(r"(?:1[6-9]|20)\d\ds?", phrase) else phrase
            return length, next(iter(signs(studio, [asked]).items()))
        except Unclear as several:
            # Of looks that share the word, what the strip is made of, so one says "film" and "cloth"; else
            # the one that takes no more than eyes and fingers: "rubbery".
            meant = [one.id.partition("=") for one in several.choices]
            made_of = [one for one in meant if one[0] == "made-of"]
            sights = made_of or [one for one in meant if one[0] in SIGHTS | SIGHTS_OF_STRIP]
            if made_of or len(sights) == 1:
                return length, (sights[0][0], sights[0][2])
        except DeskError:
            continue
    return 1, None


def _seen_at(studio: Studio, words: list[str], clause_of: list[int], at: int) -> tuple[int, str]:
    """How many words the finding here has, and that it is one."""
    length, sign = _sign_at(studio, words, clause_of, at)
    return (length, lex.SIGN) if sign is not None else (0, "")
