"""What a typed line says of the tape: the glue, if none is named, and what one sees of the strip."""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from kb.desk.choose import lexicon as lex
from kb.desk.choose.may_be import SIGHTS, SIGHTS_OF_STRIP
from kb.desk.errors import DeskError, Unclear
from kb.desk.studio import Studio
from kb.index.rows import NO_CARRIER
from kb.model.question import Question

SOLUBLE = r"solubl|solvent|dissol|aqueous|\bfilms?\b|proof|sensitive"
"""Words that were not understood and speak against a glue that water softens, unless it does so."""
OF_ANY_GLUE = frozenset(
    ("dried", "dry", "thick", "thin", "dirty", "crusty", "lot", "excess", "water", "soluble")
)
"""Words that were not understood and are said of any glue."""
MOST_SEEN = 4
"""Words in the longest finding that is looked for."""


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
