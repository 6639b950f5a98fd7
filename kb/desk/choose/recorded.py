"""What the record of a sheet says of media and paper, for a question that leaves them open."""

from __future__ import annotations

import msgspec

from kb.desk.choose import words as lex
from kb.desk.choose.may_be import with_media
from kb.desk.studio import Studio
from kb.model.question import Question


def as_recorded(studio: Studio, question: Question) -> tuple[Question, Question, str]:
    """With what the record of the sheet says of media and paper, where the question leaves either open.

    All media of a face count as within reach; who names one of the front narrows that. The second has all
    media that are known: where the catalogue lacks one none counts for harm, and the rules of the others
    hold all the same. Also what to say of it.
    """
    named = question.medium or question.also_media
    if not question.sheet or (named and question.back_media and question.paper):
        return question, question, ""
    # Many questions name no sheet, and then the records of sheets are not read.
    from kb.desk.choose.spoken import recorded
    from kb.index.kept_rows import kept

    # Two benches may have founded the sheet, and neither knew what the other saw.
    sheets = [row.body for row in kept(studio.index.conn, "sheet", question.sheet)]
    front = [] if named else [text for one in sheets for text in one.media_front]
    back = [] if question.back_media else [text for one in sheets for text in one.media_back]
    papers = dict.fromkeys(one.paper for one in sheets if one.paper and not question.paper)
    of_front, lost = recorded(studio, "medium", front)
    of_back, more = recorded(studio, "medium", back)
    paper, open_ = recorded(studio, "paper", papers)
    which = len(paper) != 1 or bool(open_)
    minded = msgspec.structs.replace(
        question,
        medium=question.medium or next(iter(of_front), ""),
        also_media=question.also_media if named else tuple(of_front[1:]),
        back_media=question.back_media or tuple(of_back),
        paper=question.paper if which else paper[0],
    )
    compiled, unknown = studio.compiled, " or ".join(dict.fromkeys((*lost, *more)))
    said = (
        ", ".join(compiled.media[one].name for one in of_front),
        f"on the back {', '.join(compiled.media[one].name for one in of_back)}" if of_back else "",
        f"no medium of the catalogue is called {unknown}: name what lies there" if unknown else "",
        "" if which else compiled.papers[paper[0]].name,
        f"which paper {' or '.join(papers)} is stays open" if papers and which else "",
        lex.within(lex.sure_in_spite(lex.doubts("; ".join((*front, *back, *papers))))),
    )
    words = f" From the record of the sheet: {'; '.join(filter(None, said))}." if any(said) else ""
    return with_media(minded, question) if unknown else minded, minded, words
