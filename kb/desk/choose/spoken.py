"""A question as one speaks it: "brittle yellow clear tape over iron gall ink on rag paper, both sides".

Names of the catalogue fill the blanks, the longest first; words for what a tape shows become signs. Nothing
is guessed: what was not understood is given back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import msgspec

from kb.catalogue.problems import nearest
from kb.desk.choose.may_be import LOOSE_STAGE, stage_seen, with_signs
from kb.desk.choose.words import AGES, BETWEEN, DENIED, LINKS, OF_TAPE, SIGNS, TURNED, TURNS, WHERE, WHICH
from kb.desk.errors import DeskError, Unclear
from kb.desk.identify.identify import sign_words, signs
from kb.desk.studio import Studio
from kb.index.catalogue_rows import normal
from kb.index.search import exactly, find, kinds_bearing
from kb.model.question import Possible, Question

# Longer names are not in the catalogue, and each length costs a look-up at every word.
MOST_WORDS = 7
"""Words in the longest name that is looked for."""
BLANKS = ("tape", "carrier", "adhesive", "stage", "medium", "paper", "method")
USUAL = {"rubber": ("adhesive", "natural-rubber-resin")}
"""What a word is taken for that the trade says for the usual one of several; the sentence says for which."""
LIKE = 84.0
"""From this likeness of spelling on, of a hundred, an unknown word is asked about and not taken.
It and the two figures below are this project's own."""
NEAR_LOOKED_AT = 8
LEAST_LETTERS = 4
"""Shorter words are like too many."""
SHARED = ("adhesive", "medium")
"""Where several bear such a name, all count: a glue ("hot melt") may be any of them, and of media
("felt tip", "fountain pen") the worst decides."""
THINGS = frozenset(("photograph", "photo", "photographic print", "cabinet card", "seal", "wax seal"))
"""Names of a thing, of which a sheet bears one kind: where its kind is named as well, that is meant. A pen
beside a marker is another."""
WORD = r"[^\W_]+(?:[-'][^\W_]+)*"
"""Letters of any script, with hyphens and apostrophes within a word."""
# A word for such tape and not for what is seen of this one: old tape of the kind no longer sticks.
GENERIC = re.compile(
    r"\b(?:sticky|adhesive|self[- ]adhesive|pressure[- ]sensitive)[ -]+(tapes?)\b", re.IGNORECASE
)
# What is denied of tack is one word for what is seen: "not" alone would leave "tacky" to say the opposite.
NO_TACK = re.compile(
    r"\b(?:no|not|no longer|without|does not|doesn't)(?: any)? (?:tack|tacky|stick|sticks|sticky)\b",
    re.IGNORECASE,
)
# Old of the tape and not of the sheet that it lies on.
OLD = re.compile(
    # Behind a comma only what is seen goes on with the tape: "old map, masking tape" is an old map.
    rf"\bold\b(?=(?:[ ,-]+(?:{'|'.join(SIGNS)})|[ -]+(?!(?:with|on|under|over)\b)\w+){{0,2}}"
    r"[ -]+(?:tape|strip|adhesive|label|sticker|cement)s?\b)",
    re.IGNORECASE,
)
BOTH = re.compile(r"\b(both (?:sides|faces)|two[- ]sided|front and back|recto and verso)\b", re.IGNORECASE)


STICKING = frozenset(("rubber", "acrylic", "silicone"))
"""Groups of adhesives that a tape may bear in place of its usual one."""
CREPE = "crepe-paper"
"""Porous, and yet no paper that one brushes with paste."""
NO_GLUE = frozenset(("sized", "size", "sizing", "paint", "ink", "print", "bichromate"))
"""Behind the name of a glue these make it part of the paper or of what is on it."""
SUPPORT = frozenset(("backed", "lined", "mounted"))
"""Behind the name of a carrier these make it what the sheet lies on, unless a tape is spoken of."""
OF_THE_SHEET = re.compile(
    rf"\b((?:[^\W_]+[ -])?[^\W_]+)[ -]+({'|'.join(sorted(NO_GLUE | SUPPORT, key=len, reverse=True))})\b"
    r"(?![ -]+(?:tape|strip|label|adhesive)s?\b)",
    re.IGNORECASE,
)


SHEETS = frozenset(("medium", "paper", "object"))
HARD_TO = re.compile(r"\bhard to\b", re.IGNORECASE)
OF_SHEET = "not taken for the tape's"
"""Said of a word for what is seen that stands beside a paper, an ink or an object."""
WITH_AGE = "no longer fresh"
NOTHING_NEW = "nothing new, for the adhesive is named"
MOST_SEEN = 4
"""Words in the longest finding that is looked for."""


class Said(NamedTuple):
    """One stretch of words and what it was taken for."""

    words: str
    meant: str
    sign: bool = False


class Spoken(NamedTuple):
    """The question, what was understood in the order it was said, and the words that were not."""

    question: Question
    understood: tuple[Said, ...]
    left: tuple[str, ...]
    closest: str = ""
    """The line with the closest names in place of words that were not understood; empty if none is close."""
    without: tuple[str, ...] = ()
    """What the closest names are: a medium that is left out, for one, bars nothing."""

    @property
    def sentence(self) -> str:
        """What was understood and what was not, to be said before the answer."""
        text = "Understood: " + "; ".join(f"{one.words} = {one.meant}" for one in self.understood) + "."
        return f"{self.missed}{text}"

    @property
    def brief(self) -> str:
        """The same in short, beside blanks that show what the names were taken for."""
        return f"{self.missed}{self.in_short}"

    @property
    def in_short(self) -> str:
        """What was understood, without what each name was taken for."""
        signs = ", ".join(one.words for one in self.understood if one.sign)
        names = ", ".join(one.words for one in self.understood if not one.sign)
        parts = (f"as signs {signs}" if signs else "", f"as names {names}" if names else "")
        return f"Understood {'; '.join(filter(None, parts))}."

    @property
    def missed(self) -> str:
        """What was not understood, and what the answer does not know for that; empty if all was."""
        said = f"Not understood and left out: {', '.join(self.left)}. " if self.left else ""
        if self.without:
            said += f"The answer is not whole: it knows nothing of this {' or '.join(self.without)}. "
        return said


class Seen(NamedTuple):
    """Finding by look, what was understood in the order it was said, and the words that were not."""

    findings: dict[str, str]
    understood: tuple[Said, ...]
    left: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What was understood and what was not."""
        text = "; ".join(f"{one.words} = {one.meant}" for one in self.understood)
        said = f"Understood: {text}." if text else "No finding was understood."
        return f"Not understood and left out: {', '.join(self.left)}. {said}" if self.left else said


def seen(studio: Studio, text: str) -> Seen:
    """Findings in a line of what one sees: words for signs as in a question, and the findings' own names."""
    words = re.findall(WORD, NO_TACK.sub("tackless", text))
    found = Seen({}, (), ())
    at = 0
    while at < len(words):
        length, sign = _sign_at(studio, words, at)
        phrase = " ".join(words[at : at + length])
        if sign is not None and found.findings.setdefault(*sign) == sign[1]:
            said = Said(phrase, sign_words(studio, *sign), sign=True)
            found = found._replace(understood=(*found.understood, said))
        elif sign is not None or phrase.casefold() not in LINKS:
            found = found._replace(left=(*found.left, phrase))
        at += length
    return found


def _sign_at(studio: Studio, words: list[str], at: int) -> tuple[int, tuple[str, str] | None]:
    """How many words belong together here, and the look and finding that they mean."""
    # A finding may be named by a denial ("no smell"): its own name goes first.
    for length in range(min(MOST_SEEN, len(words) - at), 0, -1):
        phrase = " ".join(words[at : at + length])
        if length == 1 and phrase.casefold() in LINKS:
            break
        if length == 1 and (sign := SIGNS.get(phrase.casefold())):
            return 1, sign
        try:
            return length, next(iter(signs(studio, [phrase]).items()))
        except Unclear as several:
            # Of looks that share the word, what the strip is made of: so one says "film" and "cloth".
            meant = [one.id.partition("=") for one in several.choices if one.id.startswith("made-of=")]
            if meant:
                return length, (meant[0][0], meant[0][2])
        except DeskError:
            continue
    denied = words[at].casefold() in DENIED and at + 1 < len(words)
    return (2 if denied else 1), None


def spoken(studio: Studio, text: str, usual: Question | None = None) -> Spoken:
    """Take a typed line apart. Raises DeskError if nothing of it was understood.

    Words for what a tape shows are signs where no glue is named: "clear tape" is no name of a tape then, and
    "brittle" no stage, but each says what the tape may be.
    """
    # First without a glue: whether a word is a sign depends on what the rest of the line names.
    found = _parsed(studio, text, known=False)
    asked = usual or Question()
    known = bool(found.fields.get("tape") or found.fields.get("adhesive") or found.shared or asked.adhesive)
    if known:
        found = _parsed(studio, text, known=True)
    if not found.understood:
        raise DeskError(f'Nothing of "{text}" was understood; name a tape, an adhesive, a medium or a paper.')
    fields, media = found.fields, found.media
    _, adhesive, carrier = studio.compiled.tapes.get(fields.get("tape", ""), ("", "", ""))
    asked = msgspec.structs.replace(
        # What was typed in the line stands over what its tape implies.
        asked,
        **{
            "adhesive": adhesive or asked.adhesive,
            "carrier": carrier or asked.carrier,
            **fields,
            "medium": media[0] if media else asked.medium,
            "also_media": tuple(media[1:]) or asked.also_media,
        },
    )
    asked = _one_of(asked, found.shared)
    understood = list(found.understood)
    if known and found.signs:
        asked, understood = _aged(studio, asked, found)
    both = BOTH.search(text)
    if both:
        asked = msgspec.structs.replace(asked, back_media=tuple(media) or asked.back_media)
        understood.append(Said(both.group(0), "the same media on the other face"))
    closest = text
    for word, near, _ in dict.fromkeys(found.near):
        closest = re.sub(rf"\b{re.escape(word)}\b", near, closest)
    kinds = dict.fromkeys(kind for _, _, kind in found.near if kind)
    return Spoken(
        asked if known else with_signs(studio, asked, found.signs),
        tuple(understood),
        tuple(found.left),
        closest if found.near else "",
        tuple(kinds),
    )


def _aged(studio: Studio, question: Question, found: _Parsed) -> tuple[Question, list[Said]]:
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


def _one_of(question: Question, adhesives: list[str]) -> Question:
    """The tape may bear any of these, each as likely; as it is where the adhesive is known."""
    if question.adhesive or not adhesives:
        return question
    weight = 1.0 / len(adhesives)
    may_be = tuple(Possible(adhesive=one, stage="", carrier="", weight=weight) for one in adhesives)
    return msgspec.structs.replace(question, may_be=may_be)


class _Parsed(NamedTuple):
    """Blanks, media and signs that the words fill, adhesives that share a name, and what was left.

    ``near``: what was left, the closest name or word, and the kind of entry that bears it, if one does.
    """

    fields: dict[str, str]
    media: list[str]
    signs: dict[str, str]
    understood: list[Said]
    left: list[str]
    shared: list[str]
    near: list[tuple[str, str, str]]
    things: list[tuple[int, tuple[str, ...]]]
    """Media that share the name of a thing, and where it stands among what was understood."""
    glues: list[int]
    """Where the names of glues stand among what was understood."""


class _Line(NamedTuple):
    """The words of a line, in which clause each stands, those that were joined into one, and the kinds of
    things that were named so far, each with its clause."""

    words: list[str]
    clause_of: list[int]
    joined: set[str]
    named: list[tuple[str, int]]


def _line(studio: Studio, text: str) -> _Line:
    joined: set[str] = set()
    text = HARD_TO.sub(" ", NO_TACK.sub("tackless", text))
    text = OF_THE_SHEET.sub(lambda found: _joined(studio, found, joined), text)
    clauses = re.split("[,;]", GENERIC.sub(r"\1", BOTH.sub(" ", text)))
    pairs = [(word, number) for number, clause in enumerate(clauses) for word in re.findall(WORD, clause)]
    return _Line([word for word, _ in pairs], [number for _, number in pairs], joined, [])


def _parsed(studio: Studio, text: str, *, known: bool) -> _Parsed:
    """Word by word, the longest name first. ``known``: a glue is named, so that signs say nothing more."""
    found = _Parsed({}, [], {}, [], [], [], [], [], [])
    fields, media, signs, understood, left, shared, *_ = found
    line = _line(studio, text)
    words, clause_of, joined, things = line
    for old in OLD.findall(text):
        fields["stage"] = LOOSE_STAGE
        understood.append(Said(old, WITH_AGE))
    asked: dict[str, str] = {}
    at = 0
    while at < len(words):
        word = words[at].casefold()
        # Only where a whole name starts here is the word not a sign of its own.
        sign = SIGNS.get(word)
        name = _longest(studio, words, at, fields)
        named = {one.casefold() for one in words[at : at + name[0]]} if name is not None else set()
        if name is not None and named & SIGNS.keys() and named <= SIGNS.keys() | LINKS:
            # Such a name says what is seen, unlike "book tape". With the glue known it still tells the stage,
            # and never the tape.
            name = name if known and name[1] == "stage" and not _of_sheet(studio, line, at) else None
        if name is not None:
            length, kind, ids, called = name
            phrase = " ".join(words[at : at + length])
            things.append((kind, clause_of[at]))
            at += length
            if len(ids) > 1 and kind not in SHARED:
                asked.setdefault(kind, f"{phrase}: {called}")
            else:
                understood.append(_filled(found, phrase, kind, ids, called))
            continue
        if sign is not None and (known or sign[0] not in signs):
            _sign(studio, found, line, at, known=known)
        elif word in WHICH:
            asked.setdefault(WHICH[word], words[at])
        elif "-" in word and words[at] not in joined:
            # "Rubber-based" is no name, and rubber is one.
            pieces = words[at].split("-")
            words[at : at + 1], clause_of[at : at + 1] = pieces, [clause_of[at]] * len(pieces)
            continue
        elif word not in LINKS:
            left.append(words[at])
        if word not in BETWEEN and word not in WHERE:
            things.append((_on_what(word), clause_of[at]))
        at += 1
    filled = fields.keys() | ({"medium"} if media or found.things else set())
    if "tape" in filled or shared:
        filled |= {"adhesive"}
    _kinds_of_things(found)
    _second_glues(studio, found)
    _give_back(studio, found)
    left += [f"{word} (which?)" for blank, word in asked.items() if blank not in filled]
    return found


def _of_sheet(studio: Studio, line: _Line, at: int) -> bool:
    """Whether a word for what is seen is said of a paper, an ink or an object, and not of the tape."""
    words, clause_of, _, things = line
    on = at + 1
    while on < len(words) and words[on].casefold() in BETWEEN:
        on += 1
    if on < len(words) and clause_of[on] == clause_of[at] and words[on].casefold() not in WHERE:
        name = _longest(studio, words, on, {})
        kind = name[1] if name is not None else _on_what(words[on].casefold())
        if kind:
            return kind in SHEETS
    return bool(things) and things[-1][1] == clause_of[at] and things[-1][0] in SHEETS


def _on_what(word: str) -> str:
    """The kind of thing that a word which is no name stands for; empty for one that is not known."""
    if word in OF_TAPE:
        return "tape"
    return WHICH.get(word, "object" if word in LINKS else "")


def _joined(studio: Studio, found: re.Match[str], joined: set[str]) -> str:
    """ "Gelatin sized" as one word, which is no glue, and "cloth backed", no carrier; else as it is."""
    conn, whole, last = studio.index.conn, found[0], found[2]
    kind = "carrier" if last.casefold() in SUPPORT else "adhesive"
    before = found[1].replace("-", " ").split()
    for first in range(len(before)):
        name = " ".join(before[first:])
        if kinds_bearing(conn, f"{name} {last}", f"{name} {last}"):
            return whole
        if kind in kinds_bearing(conn, name, name):
            one = "-".join([*before[first:], last])
            joined.add(one)
            return " ".join([*before[:first], one])
    return whole


def _sign(studio: Studio, found: _Parsed, line: _Line, at: int, *, known: bool) -> None:
    """Keep a word for what is seen; of a glue that is known only what tells its stage."""
    word, before = line.words[at], line.words[at - 1].casefold() if at else ""
    look, finding = SIGNS[word.casefold()]
    with_age = word.casefold() in TURNED or before in TURNS
    if before in DENIED:
        found.left[-1:] = [f"{line.words[at - 1]} {word}"]
    elif _of_sheet(studio, line, at):
        found.understood.append(Said(word, OF_SHEET))
    elif look in found.signs or (known and look not in AGES and not with_age):
        found.understood.append(Said(word, NOTHING_NEW, sign=True))
    else:
        found.signs[look] = finding
        if with_age:
            found.fields.setdefault("stage", LOOSE_STAGE)
        meant = sign_words(studio, look, finding)
        found.understood.append(
            Said(word, f"{meant}, {WITH_AGE}" if known and with_age else meant, sign=True)
        )


def _kinds_of_things(found: _Parsed) -> None:
    """A photograph whose kind is named as well is of that kind; else all that bear the name are near."""
    named = set(found.media)
    for place, ids in found.things:
        if named & set(ids):
            said = found.understood[place]
            found.understood[place] = said._replace(meant="medium, of the kind that is named")
        else:
            found.media.extend(ids)


def _second_glues(studio: Studio, found: _Parsed) -> None:
    """Give back a paste or glue that is named beside a tape which cannot bear it: film is no label."""
    compiled = studio.compiled
    _, borne, carrier = compiled.tapes.get(found.fields.get("tape", ""), ("", "", ""))
    named = {found.fields.get("adhesive", "")} | set(found.shared)
    groups = {compiled.adhesives[one].group for one in named if one in compiled.adhesives}
    brushed_on = compiled.carriers.get(carrier) == "porous" and carrier != CREPE
    if (
        not borne
        or not groups
        or brushed_on
        or groups & STICKING | groups & {compiled.adhesives[borne].group}
    ):
        return
    found.fields.pop("adhesive", None)
    found.shared.clear()
    for place in reversed(found.glues):
        found.left.append(f"{found.understood.pop(place).words} (a second adhesive)")


def _filled(found: _Parsed, phrase: str, kind: str, ids: tuple[str, ...], called: str) -> Said:
    """Fill a blank with what a name means."""
    if kind == "medium" and {phrase.casefold(), _singular(phrase.casefold())} & THINGS and len(ids) > 1:
        found.things.append((len(found.understood), ids))
        called += " (the worse counts; say which)"
    elif kind == "medium":
        found.media.extend(ids)
        called += " (the worse counts; say which)" if len(ids) > 1 else ""
    elif len(ids) > 1:
        found.shared[:] = ids
        found.glues.append(len(found.understood))
    elif kind != "stage" or ids[0] != LOOSE_STAGE:
        found.fields[kind] = ids[0]
    else:
        found.fields.setdefault(kind, ids[0])
    if kind == "adhesive" and len(ids) == 1:
        found.glues.append(len(found.understood))
    return Said(phrase, _meant(phrase, kind, called))


def _give_back(studio: Studio, found: _Parsed) -> None:
    """Put the closest name beside each word that was left."""
    # A word that stands there a thousand times is looked up once.
    closest = {word: _closest(studio, word) for word in dict.fromkeys(found.left)}
    for place, word in enumerate(found.left):
        if (near := closest[word]) is not None:
            shown, meant, kind = near
            if normal(meant) == normal(word):
                # A name that is known, but another of its kind fills the blank.
                found.left[place] = f"{word} (a second {kind})"
                continue
            found.left[place] = f"{word} ({shown}?)"
            found.near.append((word, meant, kind))


def _closest(studio: Studio, word: str) -> tuple[str, str, str] | None:
    """What a word that was not understood may be misspelt for: as it is called, as it is typed, its kind."""
    if len(word) < LEAST_LETTERS:
        return None
    from rapidfuzz import fuzz

    # Whole names only: every paper has a name that ends in "paper".
    hits = find(studio.index.conn, word, BLANKS, NEAR_LOOKED_AT)
    for hit in hits:
        if fuzz.ratio(normal(word), normal(hit.matched)) >= LIKE:
            return hit.name, hit.matched, hit.kind
    # Letters so few are near to many words: "hand" is no slip of "and".
    known = (one for one in LINKS | WHICH.keys() | SIGNS.keys() if len(one) >= LEAST_LETTERS)
    other = nearest(word, known, LIKE)
    return (other, other, "") if other else None


def _closer_stage(kind: str, filled: str, hits: Mapping[str, str]) -> bool:
    """Whether of two stages one is the loose one, so that they do not speak against each other."""
    return kind == "stage" and (filled == LOOSE_STAGE or LOOSE_STAGE in hits)


def _meant(phrase: str, kind: str, called: str) -> str:
    """What a name was taken for: its kind, and the whole name where that says more than was typed."""
    if phrase.casefold() == called.casefold():
        return kind
    # "Rag paper = paper Rag paper with gelatin size" reads as a word said twice.
    return called if kind in called.casefold() else f"{kind} {called}"


def _longest(
    studio: Studio, words: list[str], at: int, filled: dict[str, str]
) -> tuple[int, str, tuple[str, ...], str] | None:
    """The longest name that starts here: words, kind, ids, name; of several kinds the first blank left.

    More than one id: entries that share the name.
    """
    # The longest first: "iron gall ink" before "iron".
    for length in range(min(MOST_WORDS, len(words) - at), 0, -1):
        phrase = " ".join(words[at : at + length])
        if length == 1 and phrase.casefold() in LINKS | WHICH.keys():
            return None
        borne = kinds_bearing(studio.index.conn, phrase, _singular(phrase))
        for kind in BLANKS:
            hits = _bearing(studio, phrase, kind) if kind in borne else {}
            # Said twice ("residue, carrier gone") it is understood twice, and fills nothing more.
            if kind in filled and filled[kind] not in hits and not _closer_stage(kind, filled[kind], hits):
                continue
            # A tape has its carrier: "repair tape on glassine" lies on that paper.
            if kind == "carrier" and "tape" in filled and "paper" in borne and "paper" not in filled:
                continue
            usual = USUAL.get(phrase.casefold())
            if usual is not None and usual[0] == kind:
                hits = _bearing(studio, usual[1], kind)
            if hits:
                # What stands in brackets would hide where one of several names ends.
                several = [one.partition(" (")[0] for one in hits.values()]
                return length, kind, tuple(hits), " or ".join(several if len(hits) > 1 else hits.values())
    return None


def _singular(phrase: str) -> str:
    """What one of them is called, as far as an s tells."""
    return phrase[:-1] if phrase.casefold().endswith("s") and len(phrase) > LEAST_LETTERS else phrase


def _bearing(studio: Studio, phrase: str, kind: str) -> dict[str, str]:
    """Entries of a kind that bear a name, by id; where none does, the name of one for that of several."""
    one, conn = _singular(phrase), studio.index.conn
    hits = exactly(conn, phrase, kind) or (exactly(conn, one, kind) if one != phrase else [])
    return {hit.id: hit.name for hit in hits}
