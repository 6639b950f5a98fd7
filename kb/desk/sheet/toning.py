"""Toning tests: what was put on, how near the dry colour came to the sheet, and whether it bleeds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

from kb.book.kinds.parts import TISSUE
from kb.book.kinds.toning import TONING, Toning, difference
from kb.desk.materials.measured import Maker, Measured
from kb.desk.records import work_records as work
from kb.desk.sheet.infill import ADVICE, MODEL, Fit, fit_of
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow
from kb.index.rows import STATES
from kb.model.question import Plain
from kb.science.sheet.colour import difference_in_words

NOT_READ = "no difference is computed: the colour was not read on both"


class TonedView(Plain, frozen=True, kw_only=True):
    """A toning test as it stands. ``difference`` is None where one of the two colours was not read."""

    id: str
    at: str
    who: str
    state: str
    toning: Toning
    tissue: str
    difference: Measured | None
    difference_words: str
    fit: Fit | Literal[""]
    advice: str
    verdict: str
    """How near it came and what to do, in one line."""
    words: str
    """The test in one line."""
    warnings: tuple[str, ...]


def tonings(studio: Studio, sheet: str = "") -> list[TonedView]:
    """Toning tests that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work.work_rows(studio, "toning", sheet)]


def against(toning: Toning) -> Iterator[str]:
    """What speaks against it besides its batches."""
    if toning.bleeds in {"slightly", "yes"}:
        yield "The dry colour gives off on a damp swab: do not use it where paste or water comes near."


def notes(studio: Studio, toning: Toning) -> tuple[str, ...]:
    """How near it came and what to do, in one line."""
    found = difference(toning)
    said = NOT_READ if found is None else difference_in_words(found)
    return (_verdict(said, ADVICE[fit_of(found)] if found is not None else ""),)


def answer(studio: Studio, toning: Toning) -> dict[str, Any]:
    """The difference, with its mark, how well it fits, and what to do."""
    found = difference(toning)
    fit: Fit | Literal[""] = "" if found is None else fit_of(found)
    return {
        "difference": None if found is None else Maker(studio).one(found, "dE00", MODEL, ("computed",)),
        "difference_words": NOT_READ if found is None else difference_in_words(found),
        "fit": fit,
        "advice": ADVICE[fit] if fit else "",
        "verdict": notes(studio, toning)[0],
    }


def _verdict(said: str, advice: str) -> str:
    if advice.casefold().startswith(said):
        return advice
    return f"{said[:1].upper()}{said[1:]}. {advice}".rstrip()


def _view(studio: Studio, row: KeptRow) -> TonedView:
    toning: Toning = row.body
    tissue = work.name_of(studio, TISSUE, toning.tissue)
    found = difference(toning)
    fit: Fit | Literal[""] = "" if found is None else fit_of(found)
    said = NOT_READ if found is None else difference_in_words(found)
    return TonedView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        toning=toning,
        tissue=tissue,
        difference=answer(studio, toning)["difference"],
        difference_words=said,
        fit=fit,
        advice=ADVICE[fit] if fit else "",
        verdict=notes(studio, toning)[0],
        words=work.words_of(studio, TONING, toning),
        warnings=tuple(work.against(studio, TONING, toning, row.at)),
    )


def said(studio: Studio, toning: Toning) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """How it is understood while it is typed: the difference, as soon as both readings are there."""
    found = difference(toning)
    if found is None:
        return (
            ("The difference shows here as soon as both readings are typed: L a b of the sheet and dry.",),
            (),
        )
    words = f"Difference (CIEDE2000) {found:.1f}: {difference_in_words(found)}. {ADVICE[fit_of(found)]}"
    return ((words,), ())
