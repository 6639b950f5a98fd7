"""Which words of a typed line belong together: what a denial takes, what is of the sheet and no tape."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from itertools import permutations
from typing import NamedTuple

from kb.catalogue.problems import nearest
from kb.desk.choose import lexicon as lex
from kb.desk.studio import Studio
from kb.index.rows import NO_CARRIER
from kb.index.search import exactly, find, kinds_bearing, normal

BLANKS = ("tape", "carrier", "adhesive", "stage", "medium", "paper", "method")
LIKE = 84.0
"""From this likeness of spelling on, of a hundred, an unknown word is asked about and not taken.
This project's own."""
LIKE_BESIDE = 75.0
"""The same of each word of a name of several. This project's own."""
NEAR_LOOKED_AT = 8
"""Names near in spelling that are compared letter by letter. This project's own."""
LEAST_LETTERS = 4
"""Shorter words are like too many. This project's own."""
INKED = frozenset(("medium", "paper"))
"""Kinds whose names may begin with what is seen: "blue pencil"."""
MOST_NEAR, MOST_BESIDE = 60, 12
"""Unknown words of a line of which the closest name is looked for, and with their neighbours: each look takes
5 ms, and of more nobody reads what they may be. Both are this project's own."""
STILL_THERE = (
    r"\b(?:not|never|nobody|no one|before|until|unless|if|when|whether|half|part|partly|partially|almost"
    r"|nearly|hardly|barely|wants?|wish|like|needs?|be|can|cannot|could|plan|hope|will|would|should|must|without)\b|n't\b"
)
"""Behind these words in its clause nothing was lifted: denied, wished, supposed, or done by half."""
SUPPOSED = (
    r"\b(?:if|unless|until|till|whether|whenever|before|in case|as soon as|assuming|suppos(?:e|ing)|provided"
    r"|when|once|wish|hope|want|almost|nearly|hardly|barely|not|never)"
    r"(?: (?:that|the|its|this|my|all|of|to|have|is|was|had|tape))* *$"
)
"""Behind these what is gone is so only in thought, as behind "if the"; "where it is gone" tells it."""
BY_HALF = r"\b(?:difficulty|ease|edges?|corners?|ends?|places|part|partly|partially|half|halfway)\b"
"""The same before these."""
TRIED = frozenset(("tried", "tested", "failed", "previously", "previous", "earlier"))
"""Right beside the name of a way of work these say that it is not asked about."""
BY_OTHERS = frozenset(("previous", "former", "predecessor", "predecessors"))
"""In its clause one of these says that another worked so."""
LIFTS = frozenset(("removed", "lifted", "peeled", "treated", "washed"))
"""What is said of what is wished too: "masking tape removed by gel"."""
DOERS = frozenset(("was", "were", "been", "had", "has", "have", "i", "we", "they", "already", "previously"))
"""Behind these it was done."""
THE = frozenset(("the", "it", "its", "this", "that", "them", "off", "out", "away"))
UPON = THE | {"top", "of", "rubber", "glue"}
"""Between a tape and the residue that it lies on; rubber and glue are names of none alone."""
RESIDUE = frozenset(("residue", "residues", "remains", "remnants", "rest", "stain", "stains"))
MOST_TURNED = 40
"""Places at which the order of words is looked at: a line of a thousand is none that one speaks. This
project's own."""
WORDS_AROUND, LETTERS_AROUND = 12, 120
"""As far from a word, within its clause, as that stands which says what it is of. This project's own."""
BACK, FRONT = frozenset(("back", "verso", "reverse", "backside", "rear")), frozenset(("front", "recto"))


class Line(NamedTuple):
    """The words of a line, in which clause each stands, those that were joined into one, the kinds of things
    that were named so far, each with its clause, where strips begin and end of which only is told what is
    seen, and what bears the stretches of words that were looked up."""

    words: list[str]
    clause_of: list[int]
    joined: set[str]
    named: list[tuple[str, int]]
    strips: list[tuple[int, int]]
    borne: dict[str, tuple[str, set[str]]]

    def anew(self) -> Line:
        """The same before anything of it was named, to be gone through once more."""
        return self._replace(words=[*self.words], clause_of=[*self.clause_of], named=[], strips=[])


def straightened(studio: Studio, text: str) -> str:
    """The line with names in the order in which they are called, and what one does not think denied:
    "pencil, copying" was graphite, "cloth tape, plastic coated" a surgical one."""
    for words, instead in lex.SHORT:
        text = re.sub(words, instead, text, flags=re.IGNORECASE)
    text = re.sub(lex.BY_ITSELF, partial(_not_gummed, studio), text, count=MOST_TURNED, flags=re.IGNORECASE)
    nouns = "|".join(lex.BEFORE_WHICH)
    behind = rf"\b(?:([\w-]+) )?({nouns})(s?)(?: ?\(| ?[,:] ?)([\w'-]+(?: [\w'-]+){{0,2}})(?:\)|(?=$|[,;.]))"
    of = rf"\b(?:([\w-]+) )?({nouns})(s?) of (?:the )?([\w'-]+(?: [\w'-]+){{0,2}})"
    for pattern in (behind, of):
        at = done = 0
        while (found := re.compile(pattern, re.IGNORECASE).search(text, at)) and done < MOST_TURNED:
            done += 1
            name = _turned(studio, found, apart=pattern == behind)
            text = f"{text[: found.start()]}{name}{text[found.end() :]}"
            at = found.start() + len(name) if name != found[0] else found.end(2)
    run = rf"\b((?:[\w'-]+ ){{2,3}})({'|'.join(sorted(lex.STRIP | lex.LABELS))})\b"
    return re.sub(run, partial(_in_order, studio), text, count=MOST_TURNED, flags=re.IGNORECASE)


def _not_gummed(studio: Studio, found: re.Match[str]) -> str:
    """The strip alone where its tape would by that name be gummed: "self-adhesive linen tape" is none."""
    words, compiled = (found[1] or found[2]).split(), studio.compiled
    for first in range(len(words)):
        hits = exactly(studio.index.conn, " ".join((*words[first:], "tape")), "tape")
        groups = {compiled.adhesives[compiled.tapes[one.id][1]].group for one in hits}
        if groups:
            return f"{' '.join(words)} {'strip' if groups.isdisjoint(lex.STICKING) else 'tape'}"
    return found[0]


def _borne(studio: Studio, name: str) -> set[str]:
    return set(kinds_bearing(studio.index.conn, name)) & set(BLANKS)


def _turned(studio: Studio, found: re.Match[str], *, apart: bool) -> str:
    """What stands behind a noun put before it, where that makes a name and says nothing by itself.

    ``apart``: a comma or a bracket stands between them, so that it may be another thing of a list.
    """
    before, noun, many, which = (one or "" for one in found.groups())
    if before and _borne(studio, f"{before} {noun}"):
        heads = [("", f"{before} {noun}")]
    else:
        heads = [(f"{before} " if before else "", noun)]
    words = which.split()
    for length in range(len(words), 0 if not apart else len(words) - 1, -1):
        said, rest = " ".join(words[:length]), "".join(f" {one}" for one in words[length:])
        low = [one.casefold() for one in words[:length]]
        vague = all(one in lex.SIGNS or one in lex.WHICH or lex.is_link(one) for one in low)
        # "Pencil (blue)" is another medium, a blue tape no other tape; "pencil, yellow, brittle tape" is told
        # of the tape.
        colours = lex.SIGNS if "(" in found[0] else lex.COLOURS
        vague &= said.casefold() != "copy" and not (
            noun.casefold() in {"pencil", "ink", "chalk"} and low[0] in colours
        )
        if vague or not (lex.DONE - {"coated"}).isdisjoint(low):
            continue
        for kept, head in heads:
            either = (one for one in (said, said.removesuffix("s")) if _borne(studio, f"{one} {head}"))
            name = next(either, "")
            # "Paint, acrylic" is one thing, as "crayon (wax)" is, and "paint (casein)" is no glue.
            one = "(" in found[0] or noun.casefold() in {"crayon", *lex.WHICH}
            if "(" in found[0] and noun == "paint" and "adhesive" in _borne(studio, said):
                name = name or said
            if name and (one or not (apart and _borne(studio, said))):
                return f"{kept}{name} {head}{many}{rest}"
    return found[0]


def _in_order(studio: Studio, found: re.Match[str]) -> str:
    """Words before "tape" in the order of a name: "kraft gummed tape" is gummed kraft tape."""
    words, noun = found[1].split(), found[2]
    first = max((n for n, one in enumerate(words, 1) if lex.is_link(one.casefold())), default=0)
    for begin in range(first, len(words) - 1):
        if _borne(studio, " ".join((*words[begin:], noun))):
            break
        for order in permutations(words[begin:]):
            name = " ".join((*order, noun))
            if "tape" in _borne(studio, name.removesuffix("s")):
                return " ".join((*words[:begin], name))
    return found[0]


def line_of(studio: Studio, text: str) -> Line:
    joined: set[str] = set()
    for sign, instead in (("w/o ", "without "), ("w/", "with "), (" & ", " and "), (" + ", " and ")):
        text = text.replace(sign, instead)
    for words in (lex.UNSURE, lex.HARD_TO, lex.MEASURES):
        text = re.sub(words, " ", text, flags=re.IGNORECASE)
    for words, instead in ((lex.LOST, r"\1, carrier gone"), (lex.LIFTED, ", carrier gone, after")):
        text = re.sub(words, partial(_gone, instead), text, flags=re.IGNORECASE)
    for words, instead in ((lex.LIFTING, ""), (lex.COMES_OFF, "lifting")):
        text = re.sub(words, instead, text, flags=re.IGNORECASE)
    text = lex.tackless(text)
    taped = not lex.STRIP.isdisjoint(text.casefold().replace("-", " ").split())
    text = re.sub(lex.OF_THE_SHEET, partial(_joined, studio, joined, taped), text, flags=re.IGNORECASE)
    joined |= {"-".join(found) for found in re.findall(lex.OTHER_STAIN, text, re.IGNORECASE)}
    for words, instead in (
        (lex.OTHER_STAIN, r"\1-\2"),
        (lex.BOTH, " "),
        (lex.GENERIC, r"\1"),
        (lex.ABROAD, "tape"),
    ):
        text = re.sub(words, instead, text, flags=re.IGNORECASE)
    return Line(*lex.in_clauses(text), joined, [], [], {})


def _gone(instead: str, found: re.Match[str]) -> str:
    """What says that the carrier is gone, unless that is denied, wished, supposed or was done by half."""
    start, end = found.span()
    before = re.split(lex.CLAUSES, found.string[max(start - LETTERS_AROUND, 0) : start])[-1]
    behind = re.split(lex.CLAUSES, found.string[end : end + LETTERS_AROUND])[0]
    lifted = re.search("^(?!after).*(?:lifted|removed|peeled|left|remain)", found[0], re.IGNORECASE)
    if not lifted and re.search(SUPPOSED, before, re.IGNORECASE):
        # As one name, so that it is given back.
        return found.expand(instead.replace(",", ""))
    still = re.search(STILL_THERE, before, re.IGNORECASE) or re.search(BY_HALF, behind, re.IGNORECASE)
    # With what it was done is no way of this test.
    was = ", after" if instead.endswith("gone") and not DOERS.isdisjoint(found[0].casefold().split()) else ""
    return found[0] if lifted and still else f"{found.expand(instead)}{was}"


def _joined(studio: Studio, joined: set[str], taped: bool, found: re.Match[str]) -> str:
    """ "Gelatin sized" as one word, which is no glue, and "cloth backed", no carrier; else as it is."""
    conn, whole, last = studio.index.conn, found[0], found[2].casefold()
    if last in lex.TREATED and not taped:
        return whole
    kinds = {"adhesive"} if last in lex.NO_GLUE else {"carrier", *(["adhesive"] if taped else [])}
    before = found[1].replace("-", " ").split()
    for first in range(len(before)):
        name = " ".join(before[first:])
        if not kinds_bearing(conn, f"{name} {last}").isdisjoint(BLANKS):
            return whole
        if kinds & kinds_bearing(conn, name) or ("adhesive" in kinds and name.casefold() in lex.GLUE):
            one = "-".join([*before[first:], last])
            joined.add(one)
            return " ".join([*before[:first], one])
    return whole


def of_what_it_holds(studio: Studio, line: Line, at: int, name: tuple[int, str, tuple[str, ...]]) -> bool:
    """Whether a name is that of a label under a tape, or of what the sheet was lined, fixed or mended with:
    "a tape on a map lined with paste" was asked for water."""
    low, (length, kind, ids) = [one.casefold() for one in line.words], name
    start, first, end = line.clause_of.index(line.clause_of[at]), at, at + length
    if kind == "carrier" and NO_CARRIER in ids:
        return not RESIDUE.isdisjoint(low[at:end]) and _tape_over(studio, low, start, at, end)
    if kind != "tape" or not lex.LABELS.issuperset(low[at:end]):
        # "Hinges of Japanese paper" are stuck to a sheet of another.
        before = at - 1 - (low[at - 1 : at] == ["of"])
        if kind == "paper" and not lex.HINGES.isdisjoint((*low[max(before, 0) : at], *low[end : end + 1])):
            return True
        loose = kind == "tape" and studio.compiled.tapes[ids[0]][2] == NO_CARRIER
        if not loose and kind not in {"adhesive", "carrier", "paper"}:
            return False
        first = max((n for n in range(start, at) if low[n] in lex.DONE), default=at)
        # What it was done to, back to the word that leads on from another thing.
        back = max((n for n in range(start, first) if low[n] in lex.LEADS), default=start - 1)
        by = max((n for n in range(first, at) if low[n] in lex.BY), default=at)
        further = lex.LEADS.difference(("and",)).intersection(low[by:at])
        last = end + (line.clause_of[end : end + 1] == line.clause_of[at : at + 1])
        # "Tape on an etching, stuck down with paste": it is the tape that was.
        of_tape = low[first] in lex.HELD and back + 1 == first and not lex.STRIP.isdisjoint(low[:first])
        if by == at or further or of_tape or not lex.STUCK.isdisjoint(low[back + 1 : last]):
            return kind == "adhesive" and _under_tape(low, start, at, end)
    tapes = [n for n, one in enumerate(low) if one in lex.TAPED and not first <= n < end]
    # A strip of linen may well be pasted on.
    taped = any(low[n] not in {"strip", "strips"} and low[n - 1 : n] != ["no"] for n in tapes)
    return taped or kind == "paper" or any(one == "tape" for one, _ in line.named)


def _tape_over(studio: Studio, low: list[str], start: int, at: int, end: int) -> bool:
    """Whether a tape lies over the residue that is named from ``at`` to ``end``: then it is not gone."""
    over = max((n for n in range(start, at) if low[n] in lex.OVER), default=start)
    between = (one for one in low[over + 1 : at] if one not in lex.BETWEEN and one not in lex.OF_TAPE)
    of_it = all(lex.STRIPS & kinds_bearing(studio.index.conn, one) for one in between if one not in UPON)
    return _beneath(low, end) or (of_it and not lex.STRIP.isdisjoint(low[start:over]))


def _under_tape(low: list[str], start: int, at: int, end: int) -> bool:
    """Whether a tape lies over the glue that is named from ``at`` to ``end``: "tape over old hide glue"."""
    before = next((n for n in range(at - 1, start, -1) if low[n] not in lex.BETWEEN), start)
    based = low[before - 1 : before] == ["based"]
    over = low[before] in lex.OVER and not based and not lex.STRIP.isdisjoint(low[start:before])
    return over or _beneath(low, end)


def _beneath(low: list[str], end: int) -> bool:
    return not {*lex.UNDER}.isdisjoint(low[end : end + 1]) and not lex.STRIP.isdisjoint(low[end:])


def of_back(line: Line, clause: int) -> bool:
    """Whether a clause speaks of the back of the sheet alone, with what goes on with its denial."""
    low, number = [one.casefold() for one in line.words], line.clause_of
    first = number.index(clause)
    begin = (at for at in range(first + 1, len(low)) if number[at] != number[at - 1])
    # "No ink, no pencil on the back".
    said = low[first : next((at for at in begin if low[at] not in lex.FIRM | lex.JOINS), None)]
    return not BACK.isdisjoint(said) and FRONT.isdisjoint(said)


def denied_to(
    words: list[str], clause_of: list[int], at: int, name_at: Callable[[int], tuple[int, str]]
) -> int:
    """Where that ends which is denied from here; ``at`` where nothing is.

    ``name_at``: how many words the name at a place has, and its kind; 0 words for none. A denial takes the
    one thing behind it and what "or" joins to that of its own kind. It takes a medium or a paper only where
    that follows at once: one that is taken in spite of a denial warns of too much, one that is lost of
    nothing.
    """
    found = re.match(lex.DENIED, " ".join(words[at : at + 2]), re.IGNORECASE)
    if found is None:
        return at
    on, low = at + 1 + found[0].count(" "), [one.casefold() for one in words]
    if found[2]:
        return on
    # "Neither acrylic, rubber nor silicone" is one denial.
    neither, firm = low[at] == "neither" and "nor" in low[at:], found[0].casefold() in lex.FIRM
    listed = _list_to(low, clause_of, on, name_at, firm=firm)
    last = clause_of[low.index("nor", at)] if neither else listed

    def next_at(place: int) -> tuple[int, str]:
        if place >= len(words) or clause_of[place] > last or low[place] in {"but", "tackless"}:
            return 0, ""
        length, kind = _thing_at(low, place, name_at)
        return max(length, 1), kind

    first = on
    while (ahead := next_at(on))[0] and not ahead[1] and (low[on] in lex.SLIGHT or low[on].endswith("ly")):
        on += 1
    length, kind = ahead
    of_sheet = kind not in {"", lex.SIGN, *lex.STRIPS}
    if of_sheet and not (
        re.match(lex.STRONG, found[0], re.IGNORECASE) and lex.PLAIN.issuperset(low[first:on])
    ):
        return on
    # "Hardly visible over ballpoint": what stands there lies over it all the same.
    end = on if not kind and on > first and lex.WHERE.intersection(low[on : on + 1]) else on + length
    # "Not brittle masking tape" is masking tape; "no brittle tape" and "not a brittle tape" are none.
    if kind == lex.SIGN and (found[1] is None or low[first : first + 1] in (["a"], ["an"], ["any"])):
        more, noun = next_at(end)
        if (
            more
            and low[end] not in lex.SIGNS
            and (noun in {lex.SIGN, *lex.STRIPS} or low[end] in lex.OF_TAPE)
        ):
            end += more
    alike = {kind} if of_sheet or kind == lex.SIGN else set(lex.STRIPS) if kind else {"", lex.SIGN}
    # "Clear film" names a carrier, and says what is seen of it.
    alike |= {lex.SIGN} if kind in lex.STRIPS and low[on] in lex.SIGNS else set()
    while (joined := next_at(end))[0]:
        over = low[end] in lex.JOINS
        if not over and clause_of[end] == clause_of[end - 1]:
            break
        start = end + over
        passed = lex.PLAIN if over and kind else frozenset[str]()
        passed |= lex.DEGREE if over and kind == lex.SIGN else frozenset()
        while low[end] != "and" and passed.intersection(low[start : start + 1]):
            start += 1
        joined = next_at(start)
        # "And" joins what is seen alone: "no date and a ballpoint signature" affirms the ballpoint.
        like = joined[1] in alike or (
            kind == lex.SIGN and joined[1] in lex.STRIPS and low[start] in lex.SIGNS
        )
        like |= (
            kind in lex.STRIPS
            and low[start : start + 1] != []
            and lex.sign_at(low, start) in lex.OF_STRIP.values()
        )
        beside = joined[0] > 0 and like and (low[end] != "and" or kind == lex.SIGN)
        # "No red or blue pencil": what is denied first is said of the pencil too.
        coloured = joined[1] in INKED and low[start] in lex.SIGNS
        beside |= firm and kind == lex.SIGN and low[end] in {lex.OR, "nor"} and coloured
        if not beside or (not joined[1] and (lex.is_link(low[start]) or low[start] in lex.WHERE)):
            break
        end = start + joined[0]
    # "No white paper tape": what the strip is made of is denied with it.
    run, of_it = end, lex.SIGNS.keys() | lex.OF_STRIP.keys()
    while kind == lex.SIGN and not found[1] and next_at(run)[0] and low[run] in of_it:
        run += 1
    return run if run > end and not lex.STRIP.isdisjoint(low[run : run + 1]) else end


def _list_to(
    low: list[str], clause_of: list[int], on: int, name_at: Callable[[int], tuple[int, str]], *, firm: bool
) -> int:
    """The clause in which a list ends that begins at ``on``: "not yellow, brown or sticky", of glues too.

    Without "or" it is none ("not yellow, brown" affirms the brown), and one of media or papers never is, but
    where a ``firm`` denial of what is seen ends in one: "no red, yellow or blue pencil".
    """
    first = place = on
    while place < len(low):
        length, kind = _thing_at(low, place, name_at)
        joined = place > on and not {lex.OR, "nor"}.isdisjoint(low[max(on, place - 2) : place])
        if kind not in {lex.SIGN, *lex.STRIPS} and not (
            firm and joined and kind in INKED and low[place] in lex.SIGNS
        ):
            break
        if joined:
            return clause_of[place]
        place += length
        if place < len(low) and low[place] in {lex.OR, "nor"}:
            place += 1 + (place < len(low) - 1 and low[place + 1] in lex.DEGREE)
    return clause_of[first - 1]


def _thing_at(low: list[str], place: int, name_at: Callable[[int], tuple[int, str]]) -> tuple[int, str]:
    """How many words the thing here has, and its kind: what is seen where it begins so, and of what age."""
    # "Not old masking tape" says how old, though "old masking tape" is a name.
    length, kind = (1, lex.SIGN) if low[place] == "old" else name_at(place)
    # "Yellow or blue pencil": a medium that is lost is not warned of. "Clear tape" says only what is seen.
    bare = kind == "tape" and (lex.SIGNS.keys() | lex.OF_TAPE).issuperset(low[place : place + length])
    seen = kind == "stage" or (lex.sign_at(low, place) is not None and (length < 2 or bare))
    return max(length, int(seen)), lex.SIGN if seen else kind


def supposed(line: Line, at: int, length: int) -> bool:
    """Whether what is named here is so only in thought: "if the carrier gone", "gone if possible"."""
    back, _, ahead = _around(line, at, at + length)
    return re.search(SUPPOSED, " ".join(back)) is not None or not {"if", "soon"}.isdisjoint(ahead[:1])


def no_way(studio: Studio, line: Line, at: int, length: int) -> bool:
    """Whether the name of a way of work is that of a tool of the draughtsman, of what was done before, or of
    a drop that fell there: "brush and ink", "after lifting it with a spatula"."""
    back, said, ahead = _around(line, at, at + length)
    # "Cut with a scalpel", "we lifted it with a spatula"; "gel applied to tape cut in two" is what is asked.
    by = max((n for n, one in enumerate(back) if one in lex.BY), default=0)
    past = max((n for n, one in enumerate(back[:by]) if one in lex.PAST), default=by)
    gap = back[past:by]
    # "A cut tape with gel" tells of the tape, and of no way.
    done = gap[:1] == ["after"] or len(gap) == 1 or not THE.isdisjoint(gap[1:2])
    done &= LIFTS.isdisjoint(gap[:1]) or len(gap) > 1 or not DOERS.isdisjoint(back)
    done &= lex.LEADS.isdisjoint((*gap, *back[by + 1 :]))
    if done and re.search(STILL_THERE, " ".join(back)) is None:
        return True
    tried = max((n for n, one in enumerate(back) if one in {"tried", "tested"}), default=len(back))
    asked = re.search(STILL_THERE, " ".join(back[:tried])) or not lex.LEADS.isdisjoint(back[tried + 1 :])
    if not BY_OTHERS.isdisjoint((*back, *ahead)) or (tried < len(back) and not asked):
        return True
    near = [[one for one in some if one not in lex.HOW] for some in (back[::-1], ahead)]
    if near[0][:1] == ["after"] or not TRIED.isdisjoint((*near[0][:1], *near[1][:1])):
        return True
    if not {"was", "were", "had", "has"}.isdisjoint(ahead[:1]) and not lex.PAST.isdisjoint(near[1][:1]):
        return True
    if said[-1] in lex.PACKS and _of_residue(line, at, at + length):
        return True
    if not lex.TECHNIQUE.isdisjoint(ahead[:1]) or back[-1:] == ["from"] or back[-2:] == ["from", "the"]:
        return True
    if ahead[:1] == ["and"] and not lex.TECHNIQUE.isdisjoint(ahead[1:3]):
        return True
    if back and (back[-1] in lex.BEFORE_TOOL or (back[-1] == "and" and not lex.BEFORE_TOOL.isdisjoint(back))):
        return True
    fell = ahead[1:2] if ahead[:1] == ["of"] else back[-1:]
    of_what = {kind for one in fell for kind in kinds_bearing(studio.index.conn, one)}
    return said[0].startswith("drop") and not of_what.isdisjoint(("adhesive", "medium"))


def _around(line: Line, at: int, end: int) -> tuple[list[str], list[str], list[str]]:
    """The words of a name, with those before and behind it in its clause."""
    first, last = at, end
    while first > max(at - WORDS_AROUND, 0) and line.clause_of[first - 1] == line.clause_of[at]:
        first -= 1
    while last < end + WORDS_AROUND and line.clause_of[last : last + 1] == line.clause_of[at : at + 1]:
        last += 1
    low = [one.casefold() for one in line.words[first:last]]
    return low[: at - first], low[at - first : end - first], low[end - first :]


def strip_to(line: Line, at: int) -> int:
    """Where a second strip ends that begins here with what is seen of it ("white tape"); else ``at``."""
    words, end = line.words, at
    if line.strips and at < line.strips[-1][1]:
        return at
    while end < len(words) and (words[end].casefold() in lex.SIGNS or words[end].casefold() in lex.OF_MAKE):
        end += 1
    together = len(set(line.clause_of[at : end + 1])) == 1
    strip = end > at and together and end < len(words) and words[end].casefold() in lex.STRIP
    if not strip or (at > 0 and words[at - 1].casefold() in {lex.OR, "nor"}):
        return at
    first = words[slice(*line.strips[0])] if line.strips else []
    if first and [one.casefold() for one in words[at : end + 1]] != [one.casefold() for one in first]:
        return end + 1
    line.strips.append((at, end + 1))
    return at


def of_poultice(line: Line, at: int, length: int, name_at: Callable[[int], tuple[int, str]]) -> bool:
    """Whether a glue is what a poultice or a gel is made of: "methyl cellulose poultice"."""
    back, _, ahead = _around(line, at, at + length)
    before = back[-1:] == ["of"] and not lex.PACKS.isdisjoint(back[-2:])
    pack = not lex.PACKS.isdisjoint(ahead[:1]) and name_at(at + length)[1] == "method"
    return (before or pack) and not _of_residue(line, at, at + length + pack)


def _of_residue(line: Line, at: int, end: int) -> bool:
    """Whether what is named here is only left over, and to be removed: "starch paste poultice residue"."""
    back, _, ahead = _around(line, at, end)
    by_it = (
        n for n, one in enumerate(back) if one in {"of", "from"} or back[n - 1 : n + 1] == ["left", "by"]
    )
    of = max(by_it, default=0)
    left = not RESIDUE.isdisjoint(back[max(of - 1 - (back[of : of + 1] == ["by"]), 0) : of])
    left &= (lex.LEADS | lex.BY | lex.TAPED).isdisjoint(back[of + 1 :])
    return left or not RESIDUE.isdisjoint(ahead[:1])


def _closest_to(studio: Studio, word: str) -> tuple[str, str, str, str] | None:
    """What a word that was not understood may be misspelt for: as it is called, as it is typed, its kind, and
    what it stands for."""
    if len(word) < LEAST_LETTERS or word.casefold() in lex.CLOTHS or word.rpartition("-")[2] in lex.NO_GLUE:
        return None
    from rapidfuzz import fuzz

    # Whole names only: every paper has a name that ends in "paper".
    for hit in find(studio.index.conn, word, BLANKS, NEAR_LOOKED_AT):
        if fuzz.ratio(normal(word), normal(hit.matched)) >= LIKE:
            return hit.name, hit.matched, hit.kind, word
    # Letters so few are near to many words: "hand" is no slip of "and".
    known = (one for one in lex.LINKS | lex.WHICH.keys() | lex.SIGNS.keys() if len(one) >= LEAST_LETTERS)
    other = nearest(word, known, LIKE)
    return (other, other, "", word) if other else None


def _closest_beside(studio: Studio, line: Line, word: str) -> tuple[str, str, str, str] | None:
    """The same of a word that is a name with its neighbours alone: "maskin tape", "iron gal ink"."""
    words, clause_of = line.words, line.clause_of
    if word not in words or word.casefold() in lex.CLOTHS:
        return None
    from rapidfuzz import fuzz

    at, slip = words.index(word), nearest(word, lex.NOUNS, LIKE_BESIDE)
    for first, end in ((at, at + 3), (at - 1, at + 2), (at, at + 2), (at - 1, at + 1)):
        places = [n for n in range(max(first, 0), end) if clause_of[n : n + 1] == [clause_of[at]]]
        phrase = " ".join(words[n] for n in places)
        # Only where a noun is one of them, or nearly: each look takes 5 ms, and a line may be all unknown.
        beside = [one.casefold() for one in phrase.split() if one != word]
        if not beside or not (slip or any(lex.is_noun(one) for one in beside)):
            continue
        for hit in find(studio.index.conn, phrase, BLANKS, NEAR_LOOKED_AT):
            meant = normal(hit.matched).split()
            pairs = zip(normal(phrase).split(), meant, strict=False)
            whole = len(meant) == len(normal(phrase).split()) and normal(phrase) != normal(hit.matched)
            # The word that they share would make any tape like any other.
            if (
                whole
                and fuzz.ratio(normal(phrase), normal(hit.matched)) >= LIKE
                and all(fuzz.ratio(one, other) >= LIKE_BESIDE for one, other in pairs)
            ):
                return hit.name, hit.matched, hit.kind, phrase
    return None


def give_back(studio: Studio, line: Line, left: list[str], found: list[tuple[str, str, str]]) -> None:
    """Put the closest name beside each word that was left, or beside it and its neighbours.

    ``found``: what was left, the closest name or word, and the kind of entry that bears it, are added.
    """
    # A word that stands there a thousand times is looked up once.
    plain = [one for one in dict.fromkeys(left) if one[-1] != ")" and not lex.is_denial(one)]
    closest: dict[str, tuple[str, str, str, str] | None] = {}
    for place, word in enumerate(plain[:MOST_NEAR]):
        if not any(near is not None and word in near[3].split() for near in closest.values()):
            closest[word] = _closest_to(studio, word)
            if closest[word] is None and place < MOST_BESIDE:
                closest[word] = _closest_beside(studio, line, word)
    for place, word in enumerate(left):
        if (near := closest.get(word)) is not None:
            shown, meant, kind, phrase = near
            left[place] = f"{phrase} ({shown}?)"
            found.append((phrase, meant, kind))
    beside = {one for near in closest.values() if near is not None for one in near[3].split()}
    left[:] = [one for one in left if one not in beside]


def as_borne(studio: Studio, phrase: str) -> tuple[str, set[str]]:
    """A name as the catalogue has it, "glue", "cement" and "adhesive" said for each other; who bears it."""
    borne = kinds_bearing(studio.index.conn, *dict.fromkeys((phrase, singular(phrase))))
    first, _, noun = phrase.casefold().rpartition(" ")
    if (
        borne
        or not first
        or noun not in lex.SAME_NOUN
        or first.split()[0] in lex.SIGNS.keys() | lex.HOUSEHOLD
    ):
        return phrase, borne
    for other in lex.SAME_NOUN:
        if "adhesive" in (kinds := kinds_bearing(studio.index.conn, f"{first} {other}")):
            return f"{first} {other}", kinds
    return phrase, borne


def singular(phrase: str) -> str:
    """What one of them is called, as far as an s tells."""
    return phrase[:-1] if phrase.casefold().endswith("s") and len(phrase) >= LEAST_LETTERS else phrase
