"""What the record of a sheet says of media and paper, for a question that leaves them open."""

from __future__ import annotations

import re
from collections.abc import Iterable

import msgspec

from kb.desk.choose import lexicon as lex
from kb.desk.choose.may_be import with_media
from kb.desk.choose.words import within
from kb.desk.studio import Studio
from kb.index.kept_rows import kept
from kb.index.queries import entry, spot_tests
from kb.index.rows import BARE_PAPER
from kb.model.question import Question

NOTHING_THERE = frozenset(("none", "nothing"))
"""What a record says of a face that bears nothing."""
OF_PAPER = frozenset((
    "g", "m2", "gsm", "mm", "thin", "thick", "heavy", "lightweight", "handmade", "hand-made", "watermarked",
    "watermark", "gelatin-sized", "torn", "creased", "folded", "foxed", "toned", "from", "about",
))  # fmt: skip
"""Words beside the name of a paper that leave it the paper it is; "oiled" and "coated" do not."""
EXCEPTS = r"except|excluding|any|every|other|rather|instead|apart"
"""How a denial begins that says so of all but the words behind it, or puts another thing in its place."""
RECORDED_KEPT = 32
"""Words of records that are read once: a question is asked anew at every letter."""


def as_recorded(studio: Studio, question: Question) -> tuple[Question, Question, str]:
    """With what the record of the sheet says of media and paper, where the question leaves either open.

    All media of a face count as within reach; who names one of the front narrows that. The second has all
    media that are known: where the catalogue lacks one none counts for harm, and the rules of the others
    hold all the same. Also what to say of it.
    """
    named = question.medium or question.also_media
    if not question.sheet or (named and question.back_media and question.paper):
        return question, question, ""
    # Two benches may have founded the sheet, and neither knew what the other saw.
    sheets = [row.body for row in kept(studio.index.conn, "sheet", question.sheet)]
    front = [] if named else [text for one in sheets for text in one.media_front]
    back = [] if question.back_media else [text for one in sheets for text in one.media_back]
    papers = dict.fromkeys(one.paper for one in sheets if one.paper and not question.paper)
    of_front, lost = recorded(studio, "medium", front)
    of_back, lost_back = recorded(studio, "medium", back)
    paper, open_ = recorded(studio, "paper", papers)
    # What was tested on it lies on it, whatever its record lacks.
    rows = [] if named else spot_tests(studio.index.conn, {"sheet": question.sheet}, withdrawn=False)
    tried = {row.medium for row in rows if row.medium in studio.compiled.media}
    # In an order that is the same however the records came together.
    by_tests = [one for one in sorted(tried) if one not in {*of_front, *of_back, BARE_PAPER}]
    which = len(paper) != 1 or bool(open_)
    minded = msgspec.structs.replace(
        question,
        medium=question.medium or next(iter((*of_front, *by_tests)), ""),
        also_media=question.also_media if named else (*of_front, *by_tests)[1:],
        back_media=question.back_media or tuple(of_back),
        paper=question.paper if which else paper[0],
    )
    compiled, unknown = studio.compiled, " or ".join(dict.fromkeys((*lost, *lost_back)))
    said = (
        ", ".join(compiled.media[one].name for one in of_front),
        f"by its tests {', '.join(compiled.media[one].name for one in by_tests)}" if by_tests else "",
        f"on the back {', '.join(compiled.media[one].name for one in of_back)}" if of_back else "",
        f"no medium of the catalogue is called {unknown}: name what lies there" if unknown else "",
        "" if which else compiled.papers[paper[0]].name,
        f"which paper {' or '.join(papers)} is stays open" if papers and which else "",
        within(lex.sure_in_spite(lex.doubts("; ".join((*front, *back, *papers))))),
    )
    words = f" From the record of the sheet: {'; '.join(filter(None, said))}." if any(said) else ""
    whole = with_media(minded, question) if unknown else minded
    # The tests alone are no list of what lies on the front.
    if not (of_front or named):
        whole = msgspec.structs.replace(whole, medium="", also_media=())
    return whole, minded, words


def recorded(studio: Studio, kind: str, texts: Iterable[str]) -> tuple[list[str], list[str]]:
    """Media or papers that a record names, by id, and what is not understood of it.

    With its place it is the same medium: "pencil, 20 mm from the lower edge". What is denied is none. Of a
    paper what tells it apart is passed over, and which of two it is is not understood.
    """
    # What a question without a sheet need not load.
    from kb.desk.choose.spoken import bearing, parsed

    texts = tuple(one.strip() for some in texts for one in some.split(";"))
    of_media = kind == "medium"

    def read() -> tuple[list[str], list[str]]:
        ids, missed = list[str](), list[str]()
        for text in texts:
            if of_media and text.casefold() in NOTHING_THERE:
                ids.append(BARE_PAPER)
                continue
            # An id, or a whole name, which may have a comma.
            known = entry(studio.index.conn, kind, text)
            named, left = [text] if known else [*bearing(studio, text, kind)], list[str]()
            if not named:
                found = parsed(studio, text)
                named = found.media if of_media else [*filter(None, [found.fields.get(kind)])]
                # Paint that is glazed with gum is another medium.
                glues = [said.words for said, of, _ in found.held_by if of == "adhesive"]
                left = [one for one in (*found.left, *glues) if not one.isdecimal()]
            missing = [one for one in left if not _denies(studio, one)]
            words = {one.casefold() for one in lex.in_clauses(text)[0] if not one.isdecimal()}
            if named and not of_media:
                missing = [one for one in missing if one.casefold() not in OF_PAPER]
                missing = [text] if missing or lex.OR in words else []
            told = (
                named or len(missing) < len(left) or words <= lex.PLACES | lex.FILLERS | lex.HOW | lex.WHERE
            )
            ids += named
            missed += [one.partition(" (")[0] for one in missing] if told else [text]
        return [*dict.fromkeys(ids)], [*dict.fromkeys(missed)]

    return studio.compiled.kept("recorded", (kind, texts), read, RECORDED_KEPT)


def _denies(studio: Studio, phrase: str) -> bool:
    """Whether words say that a known thing is not there: "no ink", but not "not identified" or "except"."""
    from kb.desk.choose.spoken import WHICH_ONE, parsed

    found = re.match(lex.DENIED, phrase, re.IGNORECASE)
    if found is None or re.match(EXCEPTS, phrase, re.IGNORECASE):
        return False
    return all(one.endswith(WHICH_ONE) for one in parsed(studio, phrase[found.end() :]).left)
