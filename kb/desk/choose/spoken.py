"""A question as one speaks it: "brittle yellow clear tape over iron gall ink on rag paper, both sides".

Names of the catalogue fill the blanks, the longest first; words for what a tape shows become signs. Nothing
is guessed: what was not understood is given back.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from typing import NamedTuple

import msgspec

from kb.desk.choose import lexicon as lex
from kb.desk.choose.grammar import (
    BLANKS,
    Line,
    as_borne,
    denied_to,
    give_back,
    line_of,
    no_way,
    of_back,
    of_poultice,
    of_what_it_holds,
    singular,
    straightened,
    strip_to,
    supposed,
)
from kb.desk.choose.may_be import LOOSE_STAGE, one_of, stage_seen, with_signs
from kb.desk.choose.spoken_tape import glues_in, usual_glues
from kb.desk.choose.words import either
from kb.desk.errors import DeskError
from kb.desk.identify.identify import sign_words
from kb.desk.studio import Studio
from kb.index.queries import record
from kb.index.rows import BARE_PAPER, NO_CARRIER
from kb.index.search import exactly, kinds_bearing, normal
from kb.model.material import Adhesive, Medium
from kb.model.question import Question

# Longer names are not in the catalogue, and each length costs a look-up at every word.
MOST_WORDS = 7
"""Words in the longest name that is looked for."""
USUAL = {"rubber": ("adhesive", "natural-rubber-resin")}
"""What a word is taken for that the trade says for the usual one of several; the sentence says for which."""
SHARED = ("adhesive", "medium")
"""Where several bear such a name, all count: a glue ("hot melt") may be any of them, and of media
("felt tip", "fountain pen") the worst decides."""
RUBBER, HARD = "rubber", "crosslinked"
CREPE = "crepe-paper"
"""Porous, and yet no paper that one brushes with paste."""
SHEETS = frozenset(("medium", "paper", "object"))
OF_SHEET = "not taken for the tape's"
"""Said of a word for what is seen that stands beside a paper, an ink or an object."""
WITH_AGE = "no longer fresh"
WHICH_ONE = " (which?)"
SECOND_TAPE = " (a second tape)"
NOTHING_NEW = "nothing new, for the adhesive is named"
NOT_WHICH = "nothing of which glue"
"""The same of a glue that is not named."""
RULED_OUT = "ruled out"
NOT_NEEDED = "a measure, which the answer does not need"
ONLY_SUPPOSED = "not told as a fact"
NOT_THE_WAY = "not taken for the way of this test"
OF_POULTICE = "what the poultice is of, and not the tape's"


def spoken(studio: Studio, text: str, usual: Question | None = None) -> lex.Spoken:
    """Take a typed line apart. Raises DeskError if nothing of it was understood.

    Words for what a tape shows are signs where no glue is named: "clear tape" is no name of a tape then, and
    "brittle" no stage, but each says what the tape may be.
    """
    # First without a glue: whether a word is a sign depends on what the rest of the line names.
    typed, asked = text.replace("\u2019", "'"), usual or Question()
    text = straightened(studio, typed)
    given = dict(one.split("=", 1) for one in asked.signs)
    if given:
        asked = msgspec.structs.replace(asked, may_be=(), signs=())
    line = line_of(studio, text)
    found = parsed(studio, text, line)
    found.signs.update({**given, **found.signs})
    borne = studio.compiled.tapes.get(found.fields.get("tape", ""), ("", "", ""))[1]
    glue = found.fields.get("adhesive") or borne or asked.adhesive
    known = bool(glue or found.shared)
    found = _less_denied(studio, found)
    usually: list[str] = []
    if not (known or asked.may_be) and _glue_words(found):
        carrier = found.fields.get("carrier", asked.carrier)
        about = msgspec.structs.replace(asked, carrier=carrier)
        said = re.findall(lex.WORD, re.sub(lex.UNSURE, " ", text, flags=re.IGNORECASE))
        usually = usual_glues(studio, about, found.signs, said, found.left)
    if usually:
        known = True
        # One of them stands for all: none turns brittle with age.
        found = _taken_for(studio, usually, parsed(studio, text, line, usually[0]))
    elif known:
        one = max(found.shared, key=lambda one: _ages(studio, one, HARD)) if found.shared else glue
        found = _less_denied(studio, parsed(studio, text, line, one))
    if not found.understood:
        near = ", ".join(one for one in found.left if one.endswith("?)"))
        raise DeskError(
            f'Nothing of "{typed}" was understood{f" ({near})" if near else ""}; '
            "name a tape, an adhesive, a medium or a paper, or say how the tape looks: clear, matt, of paper."
        )
    fields, media = found.fields, dict.fromkeys(found.media)
    _, adhesive, carrier = studio.compiled.tapes.get(fields.get("tape", ""), ("", "", ""))
    adhesive = adhesive or asked.adhesive
    asked = msgspec.structs.replace(
        # What was typed in the line stands over what its tape implies, of several glues too.
        asked,
        **{
            "adhesive": adhesive if not found.shared or adhesive in found.shared else "",
            "carrier": carrier or asked.carrier,
            **fields,
            "medium": next(iter(media), asked.medium),
            "also_media": tuple(media)[1:] or asked.also_media,
        },
    )
    asked = one_of(asked, usually or found.shared)
    understood = list(found.understood)
    if known and found.signs:
        asked, understood = _aged(studio, asked, found)
    for look, finding in given.items():
        told = NOTHING_NEW if known else sign_words(studio, look, finding)
        if not known and found.signs[look] != finding:
            found.left.append(f"{look}={finding} (a second {look.replace('-', ' ')})")
        else:
            understood.append(lex.Said(f"{look}={finding}", told, sign=True))
    if usually:
        understood = [
            one._replace(meant=NOT_WHICH) if one.meant == NOTHING_NEW else one for one in understood
        ]
    both = re.search(lex.BOTH, text, re.IGNORECASE)
    if both:
        asked = msgspec.structs.replace(asked, back_media=tuple(media) or asked.back_media)
        understood.append(lex.Said(both.group(0), "the same media on the other face"))
    understood += [lex.Said(one, NOT_NEEDED) for one in lex.measures(text)]
    closest = text
    for word, near, _ in dict.fromkeys(found.near):
        closest = re.sub(rf"\b{re.escape(word)}\b", near, closest)
    return lex.Spoken(
        asked if known else with_signs(studio, asked, found.signs),
        tuple(understood),
        tuple(found.left),
        closest if found.near else "",
        tuple(dict.fromkeys(kind for _, _, kind in found.near if kind)),
        lex.doubts(text),
    )


def _glue_words(found: _Parsed) -> list[str]:
    """Words of a line for a glue that is not named: "glue", and what is left of one ("glue drip")."""
    which = [one.removesuffix(WHICH_ONE) for one in found.left if one.endswith(WHICH_ONE)]
    rests = [said.words for said, kind, _ in found.held_by if kind == "carrier"]
    return [one for phrase in (*which, *rests) for one in phrase.split() if one.casefold() in lex.GLUE]


def _less_denied(studio: Studio, found: _Parsed) -> _Parsed:
    """Of glues that share a name those that are not denied: "carpenter's glue, not PVA"."""
    denied = [one for one in found.left if lex.is_denial(one)] if found.shared else []
    shared = [one for one in found.shared if one not in glues_in(studio, denied)]
    return found._replace(shared=shared or found.shared)


def _taken_for(studio: Studio, usually: list[str], found: _Parsed) -> _Parsed:
    """With a glue that is not named understood as any of these, and as one on its own."""
    meant = f"{lex.TAKEN}{either([lex.GLUES[one] for one in usually])}, as it is not said which"
    found.fields.setdefault("carrier", NO_CARRIER)
    said, left = [lex.Said(_glue_words(found)[0], f"{meant}, without a carrier")], []
    for one in found.left:
        if lex.is_denial(one) and glues_in(studio, [one]):
            said.append(lex.Said(one, RULED_OUT))
        elif one.removesuffix(WHICH_ONE).casefold() not in lex.GLUE:
            left.append(one)
    return found._replace(understood=[*found.understood, *said], left=left)


def _aged(studio: Studio, question: Question, found: _Parsed) -> tuple[Question, list[lex.Said]]:
    """The question with the stage that the signs of a known glue tell of, and how they were understood."""
    named = found.fields.get("stage", "")
    stage = "" if named not in {"", LOOSE_STAGE} else stage_seen(studio, question.adhesive, found.signs)
    if not stage:
        return question, [
            one._replace(meant=NOTHING_NEW) if one.sign and not one.meant.endswith(WITH_AGE) else one
            for one in found.understood
        ]
    # What is told of the stage says more than that it is no longer the first.
    so = f", so {studio.compiled.stage_names[stage].lower()}"
    return msgspec.structs.replace(question, stage=stage), [
        one._replace(meant=f"{one.meant.removesuffix(f', {WITH_AGE}')}{so}")
        if one.sign and one.meant != NOTHING_NEW
        else one
        for one in found.understood
    ]


class _Parsed(NamedTuple):
    """Blanks, media and signs that the words fill, adhesives that share a name, and what was left.

    ``near``: what was left, the closest name or word, and the kind of entry that bears it, if one does.
    """

    fields: dict[str, str]
    media: list[str]
    signs: dict[str, str]
    understood: list[lex.Said]
    left: list[str]
    shared: list[str]
    near: list[tuple[str, str, str]]
    things: list[tuple[int, tuple[str, ...]]]
    """Media that share the name of a thing, and where it stands among what was understood."""
    held_by: list[tuple[lex.Said, str, tuple[str, ...]]]
    """Names of glues and carriers, those of a second too: as understood, the kind, and what it means."""


_Name = tuple[int, str, tuple[str, ...], str, bool]
"""A name: number of words, kind, ids (several share it), what it is called, whether its blank is filled."""


def parsed(studio: Studio, text: str, line: Line | None = None, glue: str | None = None) -> _Parsed:
    """Word by word, the longest name first. ``glue``: that which is named, or the one of several that ages
    most, so that signs say nothing more; None if none is named. ``line``: the text taken apart before."""
    found = _Parsed({}, [], {}, [], [], [], [], [], [])
    fields, _, _, understood, left, shared, *_ = found
    line = (line or line_of(studio, text)).anew()
    words, clause_of, joined, things, strips, _ = line
    if re.search(lex.OLD, re.sub(lex.UNSURE, "", text, flags=re.IGNORECASE), re.IGNORECASE):
        fields["stage"] = LOOSE_STAGE
        understood.append(lex.Said("old", WITH_AGE))
    asked: list[tuple[str, str]] = []
    at = 0
    while at < len(words):
        word = words[at].casefold()
        name = _longest(studio, line, at, fields)
        if name is not None and _only_seen(words[at : at + name[0]]):
            # Only where a whole name starts here is the word not a sign of its own. Such a name says what is
            # seen, unlike "book tape". With the glue known it still tells the stage, and never the tape.
            tells = (
                glue is not None and name[1] == "stage" and not name[4] and _ages(studio, glue, name[2][0])
            )
            name = name if tells and not _of_sheet(studio, line, at) else None
        if name is not None:
            asked += _named(studio, found, line, at, name)
            at += name[0]
            if re.match(lex.DENIED, word) and words[at : at + 1] == [lex.OR]:
                # "No ink or watercolour": the name went with the first word of the denial.
                words[at] = word
            continue
        if (on := _passed(studio, found, line, at)) > at:
            at = on
            continue
        if sign := lex.sign_at(words, at, clause_of):
            _sign(studio, found, line, (at, *sign), known=glue is not None)
        elif word in lex.WHICH:
            asked.append((lex.WHICH[word], words[at]))
        elif "-" in word and words[at] not in joined and not lex.is_link(word):
            # "Rubber-based" is no name, and rubber is one.
            pieces = words[at].split("-")
            words[at : at + 1], clause_of[at : at + 1] = pieces, [clause_of[at]] * len(pieces)
            continue
        elif not lex.is_link(word):
            # "Can I use acetone on ballpoint?": it is known, and is what the answer is about.
            liquid = "liquid" in kinds_bearing(studio.index.conn, word, singular(word))
            left.append(f"{words[at]} (a liquid)" if liquid else words[at])
        if word not in lex.BETWEEN and word not in lex.WHERE:
            things.append((_on_what(word), clause_of[at]))
        at += 1
    filled = fields.keys() | ({"adhesive"} if "tape" in fields or shared else set())
    which = _which(studio, found, [one for one in asked if one[0] not in filled])
    _kinds_of_things(studio, found)
    _second_seen(studio, found, [words[start:end] for start, end in strips])
    _second_of_tape(studio, found, " ".join(words))
    give_back(studio, line, left, found.near)
    left += which
    return found


def _passed(studio: Studio, found: _Parsed, line: Line, at: int) -> int:
    """Where that ends which is denied from here, or tells of a second strip; else ``at``."""
    end = denied_to(line.words, line.clause_of, at, partial(_name_at, studio, line))
    second = "" if end > at else SECOND_TAPE
    if second and (end := strip_to(line, at)) > at:
        line.named.append(("tape", line.clause_of[at]))
    if end > at:
        found.left.append(f"{' '.join(line.words[at:end])}{second}")
    return end


def _named(studio: Studio, found: _Parsed, line: Line, at: int, name: _Name) -> list[tuple[str, str]]:
    """Take a name for what it means; what is to be asked back, because several bear it."""
    words, clause_of, _, things, *_ = line
    length, kind, ids, called, second = name
    phrase = " ".join(words[at : at + length])
    if of_what_it_holds(studio, line, at, name[:3]):
        found.understood.append(lex.Said(phrase, OF_SHEET))
        kind, ids = "object", ids[:1]
    elif kind == "adhesive" and of_poultice(line, at, length, partial(_name_at, studio, line)):
        found.understood.append(lex.Said(phrase, OF_POULTICE))
        return []
    elif second or (kind == "adhesive" and _beside_tape(line, at)):
        found.left.append(f"{phrase} (a second {kind})")
    elif ids == (BARE_PAPER,) and of_back(line, clause_of[at]):
        # "No ink on the back" and "verso blank" are no word about the front.
        if lex.is_denial(phrase):
            found.left.append(phrase)
        else:
            found.understood.append(lex.Said(phrase, "the back, and no word about the front"))
        return []
    elif NO_CARRIER in ids and kind == "carrier" and supposed(line, at, length):
        found.left.append(f"{phrase} ({ONLY_SUPPOSED})")
        return []
    elif kind == "method" and no_way(studio, line, at, length):
        found.understood.append(lex.Said(phrase, NOT_THE_WAY))
        return []
    elif kind == "stage" and _of_sheet(studio, line, at + length - 1):
        found.understood.append(lex.Said(phrase, OF_SHEET))
    elif len(ids) == 1 or kind in SHARED:
        either = at > 0 and words[at - 1].casefold() == lex.OR
        found.understood.append(_filled(found, phrase, name, either=either))
    things.append((kind, clause_of[at]))
    return [(kind, f"{phrase}: {called}")] if len(ids) > 1 and kind not in SHARED and not second else []


def _beside_tape(line: Line, at: int) -> bool:
    """Whether "and" joins what is named here to a tape: "masking tape and acrylic" are two."""
    ahead = " ".join(line.words[at + 1 : at + 2]).casefold()
    joined = at > 0 and line.words[at - 1].casefold() == "and" and ahead not in lex.OF_TAPE
    return joined and line.named[-1:] == [("tape", line.clause_of[at])]


def _which(studio: Studio, found: _Parsed, asked: list[tuple[str, str]]) -> list[str]:
    """Words that name too much and that no name in the line answers, the first for each blank."""
    said: dict[str, str] = {}
    told = set(found.media)
    if any(blank == "medium" for blank, _ in asked):
        told |= _groups(studio, found.media)
        for _, ids in found.things:
            groups = _groups(studio, ids)
            # What may be ink or paint answers for neither.
            told |= groups if len(groups) == 1 else set()
    for blank, word in asked:
        # A typescript tells nothing of the signature on it: that is another ink.
        if blank != "medium" or told.isdisjoint(lex.ANSWERED[word.casefold()]):
            said.setdefault(blank, f"{word}{WHICH_ONE}")
            # Of "hinge glue" the second word says more.
            said[blank] = f"{word}{WHICH_ONE}" if word.casefold() in lex.GLUE else said[blank]
    return list(said.values())


def _only_seen(name: list[str]) -> bool:
    """Whether a name is made of nothing but words for what is seen of a tape ("clear tape")."""
    said = [one.casefold() for one in name]
    # "Sticky note" is a thing of its own, for that is no word for a tape.
    return (
        bool(lex.SIGNS.keys() & said)
        and all(one in lex.SIGNS or lex.is_link(one) for one in said)
        and (said[-1] in lex.SIGNS or said[-1] in lex.OF_TAPE)
    )


def _ages(studio: Studio, glue: str, stage: str) -> bool:
    """Whether a word for what is seen may name that stage: hide glue is brittle from its first day."""
    found = record(studio.index.conn, "adhesive", glue, Adhesive) if glue else None
    return found is None or found.group == RUBBER or stage in {one.stage for one in found.stages}


def _name_at(studio: Studio, line: Line, at: int) -> tuple[int, str]:
    """How many words the name here has, and its kind."""
    return (_longest(studio, line, at, {}) or (0, ""))[:2]


def _of_sheet(studio: Studio, line: Line, at: int) -> bool:
    """Whether a word for what is seen is said of a paper, an ink or an object, and not of the tape."""
    words, clause_of, _, things, *_ = line
    on, colour = at + 1, words[at].casefold() in lex.COLOURS
    # What stands before a tape says which tape: "brown paper strip" is no paper.
    while on < len(words) and (words[on].casefold() in lex.BETWEEN or _before_tape(line, on)):
        on += 1
    if on < len(words) and clause_of[on] == clause_of[at] and words[on].casefold() not in lex.WHERE:
        kind = _name_at(studio, line, on)[1] or _on_what(words[on].casefold())
        if kind or colour:
            return kind not in lex.STRIPS if colour else kind in SHEETS
    # A colour alone between commas is that of what was named before it: "tape, black, on newsprint".
    mine = [one.casefold() for one, clause in zip(words, clause_of, strict=True) if clause == clause_of[at]]
    alone = colour and lex.BETWEEN.issuperset(mine)
    last = things[-1][0] if things and (alone or things[-1][1] == clause_of[at]) else ""
    before = next((one for one in reversed(words[:at]) if one.casefold() not in lex.BETWEEN), "").casefold()
    return last not in lex.STRIPS or before in lex.WHERE if colour else last in SHEETS


def _before_tape(line: Line, on: int) -> bool:
    word, behind = line.words[on].casefold(), " ".join(line.words[on + 1 : on + 2]).casefold()
    together = line.clause_of[on + 1 : on + 2] == line.clause_of[on : on + 1]
    says = word not in lex.WHERE and (word in lex.WHICH or lex.is_link(word))
    return behind in lex.OF_TAPE and together and says


def _on_what(word: str) -> str:
    """The kind of thing that a word which is no name stands for; empty for one that is not known."""
    return "tape" if word in lex.OF_TAPE else lex.WHICH.get(word, "object" if lex.is_link(word) else "")


def _sign(studio: Studio, found: _Parsed, line: Line, sign: tuple[int, str, str], *, known: bool) -> None:
    """Keep a word for what is seen; of a glue that is known only what tells its stage."""
    at, look, finding = sign
    beside = at > 0 and line.clause_of[at - 1] == line.clause_of[at]
    word, before = line.words[at], line.words[at - 1].casefold() if beside else ""
    with_age = word.casefold() in lex.TURNED or before in lex.TURNS
    of_tape = not lex.STRIP.isdisjoint(line.words[at + 1 : at + 2])
    if _of_sheet(studio, line, at):
        found.understood.append(lex.Said(word, OF_SHEET))
    elif (before == lex.OR and of_tape) if known else _or_another(line, at):
        found.left.append(f"{word} (or not?)")
    elif known and (look in found.signs or (look not in lex.AGES and not with_age)):
        found.understood.append(lex.Said(word, NOTHING_NEW, sign=True))
    elif found.signs.get(look, finding) != finding:
        found.left.append(f"{word} (a second {look.replace('-', ' ')})")
    else:
        found.signs[look] = finding
        if with_age:
            found.fields.setdefault("stage", LOOSE_STAGE)
        # The table of looks would be decoded for each word.
        found_words = partial(sign_words, studio, look, finding)
        meant = studio.compiled.kept("sign words", (look, finding), found_words, len(lex.SIGNS))
        found.understood.append(
            lex.Said(word, f"{meant}, {WITH_AGE}" if known and with_age else meant, sign=True)
        )


def _or_another(line: Line, at: int) -> bool:
    """Whether another finding is said with "or": of "very sticky or soft" neither is sure."""
    words, low = "|".join(lex.SIGNS), [one.casefold() for one in line.words]
    after = re.match(rf"or (?:(?:{'|'.join(lex.HOW)}) )*({words})\b", " ".join(low[at + 1 :]))
    before = re.search(rf"\b({words}) or(?: (?:{'|'.join(lex.DEGREE)}))*$", " ".join(low[:at]))
    return any(one is not None and lex.SIGNS[one[1]] != lex.sign_at(low, at) for one in (after, before))


def _kinds_of_things(studio: Studio, found: _Parsed) -> None:
    """A photograph whose kind is named as well is of that kind; else all that bear the name are near."""
    named = set(found.media)
    for place, ids in found.things:
        # All photographs are of one group, and a tintype is one that does not bear the name.
        groups = _groups(studio, ids)
        if named & set(ids) or (len(groups) == 1 and groups & _groups(studio, named)):
            said = found.understood[place]
            found.understood[place] = said._replace(meant="medium, of the kind that is named")
        else:
            found.media.extend(ids)


def _second_seen(studio: Studio, found: _Parsed, strips: list[list[str]]) -> None:
    """Give back a strip of which is told what is seen beside a tape that is named: they are two."""
    if "tape" not in found.fields:
        return
    names = [one for one in found.understood if not one.sign]
    called, *_ = studio.compiled.tapes.get(found.fields["tape"], ("",))
    # "Brown gummed paper tape" is the tape that is named within it.
    its = [one.words.casefold() for one in names if one.meant == lex.meant(one.words, "tape", called)]
    for strip in strips:
        phrase = " ".join(strip).casefold()
        of_it = [one for one in found.understood if one.sign and one.words in strip]
        same = any(phrase in one.words.casefold() for one in names) or any(one in phrase for one in its)
        if same or not of_it:
            continue
        for one in of_it:
            found.understood.remove(one)
            for means in (lex.SIGNS, lex.OF_STRIP):
                found.signs.pop(means.get(one.words.casefold(), ("",))[0], None)
        found.left.append(f"{' '.join(strip)}{SECOND_TAPE}")


def _groups(studio: Studio, media: Iterable[str]) -> set[str]:
    found = (record(studio.index.conn, "medium", one, Medium) for one in media)
    return {one.group for one in found if one is not None}


def _second_of_tape(studio: Studio, found: _Parsed, line: str) -> None:
    """Give back a glue or carrier beside a tape that cannot bear it: film is no label, and bears no paste.

    Beside a glue that is named, one of several says nothing more, or is a second.
    """
    compiled = studio.compiled
    _, borne, carrier = compiled.tapes.get(found.fields.get("tape", ""), ("", "", ""))
    glue = found.fields.get("adhesive", "")
    named = ({glue} if glue else set(found.shared)) & compiled.adhesives.keys()
    brushed_on = compiled.carriers.get(carrier) == "porous" and carrier != CREPE
    on_tapes = {one for _, one, on in compiled.tapes.values() if on != NO_CARRIER}
    fitting = {one for one in named & on_tapes if compiled.adhesives[one].group in lex.STICKING} | {borne}
    if brushed_on or not (borne or re.search(lex.FILM_TAPE, line, re.IGNORECASE)):
        fitting |= named
    carriers = {carrier, NO_CARRIER} if carrier else set(compiled.carriers)
    kept = {"adhesive": fitting & named, "carrier": carriers}
    for said, kind, ids in reversed(found.held_by):
        if kept[kind].isdisjoint(ids):
            found.understood.remove(said)
            found.left.append(f"{said.words} (a second {kind})")
    if glue or not kept["adhesive"]:
        found.shared.clear()
    for kind, fits in kept.items():
        if found.fields.get(kind, "") not in fits:
            found.fields.pop(kind, None)


def _filled(found: _Parsed, phrase: str, name: _Name, *, either: bool) -> lex.Said:
    """Fill a blank with what a name means. ``either``: "or" stands before it."""
    fields = found.fields
    _, kind, ids, called, _ = name
    if several := kind == "medium" and len(ids) > 1:
        called += " (the worse counts; say which)"
    if several and {phrase.casefold(), singular(phrase.casefold())} & lex.THINGS:
        found.things.append((len(found.understood), ids))
    elif kind == "medium":
        found.media.extend(ids)
    elif kind == "adhesive" and (len(ids) > 1 or (either and (found.shared or kind in fields))):
        before = (*found.shared, *filter(None, [fields.pop(kind, "") if either else ""]))
        found.shared[:] = dict.fromkeys((*before, *ids))
    elif kind != "stage" or ids[0] != LOOSE_STAGE:
        fields[kind] = ids[0]
    else:
        fields.setdefault(kind, ids[0])
    if kind == "stage" and "residue" in phrase.casefold():
        # "Hard residue" says too that the carrier is gone.
        fields["carrier"] = NO_CARRIER
    said = lex.Said(phrase, lex.meant(phrase, kind, called))
    if kind in {"adhesive", "carrier"}:
        found.held_by.append((said, kind, ids))
    return said


def _longest(studio: Studio, line: Line, at: int, filled: dict[str, str]) -> _Name | None:
    """The longest name that starts here, for the first blank left of its kinds."""
    words, clause_of = line.words, line.clause_of
    # The longest first: "iron gall ink" before "iron".
    for length in range(min(MOST_WORDS, len(words) - at), 0, -1):
        phrase = " ".join(words[at : at + length])
        if length == 1 and (lex.is_link(phrase.casefold()) or phrase.casefold() in lex.WHICH):
            return None
        if phrase not in line.borne:
            line.borne[phrase] = as_borne(studio, phrase)
        phrase, borne = line.borne[phrase]
        usual = USUAL.get(phrase.casefold(), ("", ""))
        # Most stretches of words are no name.
        if not (borne or usual[0]):
            continue
        second = None
        for kind in (one for one in BLANKS if one in borne or one == usual[0]):
            hits = bearing(studio, usual[1] if usual[0] == kind else phrase, kind)
            if clause_of[at] != clause_of[at + length - 1]:
                # "Canvas, tape" is no canvas tape, "drawing, ink" no drawing ink; "Bare paper, no medium" is
                # one name.
                whole = normal(phrase)
                hits = {one: name for one, name in hits.items() if "," in name and whole in normal(name)}
            if not hits:
                continue
            # What stands in brackets would hide where one of several names ends.
            several = [one.partition(" (")[0] for one in hits.values()]
            called = " or ".join(several if len(hits) > 1 else hits.values())
            # Said twice ("residue, carrier gone") it is understood twice, and fills nothing more.
            # A carrier may be gone that was named.
            gone = kind == "carrier" and NO_CARRIER in hits
            # Of two stages the loose one does not speak against the other.
            closer = gone or (kind == "stage" and LOOSE_STAGE in {filled.get(kind), *hits})
            if kind in filled and filled[kind] not in hits and not closer:
                # Of two glues with "or" between them it may be either.
                either = kind == "adhesive" and at > 0 and words[at - 1].casefold() == lex.OR
                if not either:
                    second = second or (length, kind, tuple(hits), called, True)
                    continue
            # "Tape on glassine" lies on that paper, "glassine strip" is one.
            behind = at + length
            while behind < len(words) and words[behind].casefold() in lex.SIGNS:
                behind += 1
            sheet = "paper" in borne and "paper" not in filled
            of_strip = " ".join(words[behind : behind + 1]).casefold()
            beside = clause_of[at : at + 1] == clause_of[behind:][:1]
            lies_on = kind == "carrier" and sheet and of_strip not in {*lex.OF_TAPE, "patch"}
            # "Washi tape" is none that the sheet is of; "paper: rag; tape: masking" is said of both.
            if lies_on or (kind == "paper" and of_strip in lex.STRIP and beside):
                continue
            return length, kind, tuple(hits), called, False
        if second is not None:
            return second
    return None


def bearing(studio: Studio, phrase: str, kind: str) -> dict[str, str]:
    """Entries of a kind that bear a name, by id; where none does, the name of one for that of several."""
    one, conn = singular(phrase), studio.index.conn
    hits = exactly(conn, phrase, kind) or (exactly(conn, one, kind) if one != phrase else [])
    return {hit.id: hit.name for hit in hits}
