"""What other studios counted, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.index.pool_queries import left_out
from kb.science.numbers import counted, percent

if TYPE_CHECKING:
    from kb.desk.pool.behind import Told
    from kb.desk.studio import Studio

MOSTLY_ONE = 0.60
"""From this share of tests by one studio on it is said that they are mostly its own (evidence model,
explanation line)."""


UNNAMED = "a studio without a label"


def left_out_words(studio: Studio) -> list[str]:
    """A sentence for each file of the pool of which nothing is counted, and what to do."""
    return [
        f"Not counted of the pool: the file of {label or UNNAMED} ({of[:8]}). {problem}"
        for of, label, problem in left_out(studio.index.conn)
    ]


def harm_seen(to_other: str, *, like: bool) -> str:
    """``harmed``, or to what harm was seen, where it is not the worst ink; ``like``: or to its like."""
    return f"harm{to_other}{' or its like' if like else ''} seen in" if to_other else "harmed"


def gist(told: Told, to_other: str) -> str:
    """For the one line of a reason: ``3 other studios: 41 tests, released 30``. Empty if none bears on it.

    ``to_other`` says to what harm is told of, where it is not the worst ink: `` to bare-paper``.
    """
    pooled, parts = told.pooled, []
    if pooled.own:
        text = counted(pooled.own, "test")
        parts.append(f"{counted(pooled.studios, 'other studio')}: {text}, released {pooled.released}")
    if pooled.similar:
        whose = "similar ones" if parts else "other studios, similar tapes"
        parts.append(f"{whose}: {counted(pooled.similar, 'test')}, released {pooled.similar_released}")
    looks, harmed = pooled.looks + pooled.similar_looks, pooled.harmed + pooled.similar_harmed
    if looks:
        did = harm_seen(to_other, like=pooled.similar_looks > 0)
        parts.append(f"{'' if parts else 'other studios '}{did} {harmed} of {looks}")
    return ", ".join(parts)


def none_near(whose: str, *, far: bool, yet: str = "") -> str:
    """``no test of theirs bears on it``; where those further off do, that none is near."""
    if far:
        return f"no test of {whose} is near it{yet}; those further off move the chances"
    return f"no test of {whose} bears on it{yet}"


def detail(told: Told, to_other: str) -> str:
    """One line among the parts of a reason, in the order of trust."""
    if not told.bears:
        return f"Other studios: {none_near('theirs', far=told.far)}."
    pooled = told.pooled
    same = _class(
        "the same class",
        (pooled.own, pooled.studios, pooled.released),
        (pooled.looks, pooled.harm_studios, pooled.harmed),
        to_other,
    )
    parts = [f"Other studios: {same}."]
    if pooled.similar or pooled.similar_looks:
        parts.append(
            f"Similar tapes, media and liquids: {counted(pooled.similar, 'test')}, "
            f"{pooled.similar_released} released; "
            f"{counted(pooled.similar_looks, 'look')} for harm, {pooled.similar_harmed} harmed."
        )
    parts.append("They weigh less than own tests.")
    if told.most > MOSTLY_ONE and pooled.studios > 1:
        parts.append(f"{percent(told.most)} of the tests of the same class come from one studio.")
    return " ".join(parts)


def _class(what: str, tests: tuple[int, int, int], looks: tuple[int, int, int], to_other: str) -> str:
    """``the same class: 41 tests by 3 studios, 30 released; 12 looks for harm by 2 studios, 1 harmed``."""
    number, studios, hits = tests
    told = [f"{counted(number, 'test')} by {counted(studios, 'studio')}, {hits} released"] if number else []
    number, studios, hits = looks
    if number:
        told.append(
            f"{counted(number, 'look')} for harm{to_other} by {counted(studios, 'studio')}, {hits} harmed"
        )
    return f"{what}, {'; '.join(told)}" if told else f"no test of {what}"


def disagreements(
    told: Told, own: tuple[int, int], print_released: frozenset[bool], to_other: str
) -> list[str]:
    """Where what other studios counted contradicts own tests, print or chemistry, each in a sentence.

    ``own``: own tests of weight 0.25 or more, and how many released.
    """
    pooled, lines = told.pooled, []
    tests, hits = pooled.own + pooled.similar, pooled.released + pooled.similar_released
    looks, harmed = pooled.looks + pooled.similar_looks, pooled.harmed + pooled.similar_harmed
    if told.release_apart:
        lines.append(
            f"Your own tests and those of other studios disagree on release: {own[1]} of {own[0]} here, "
            f"{hits} of {tests} there. Trust your own first."
        )
    if told.harm_apart:
        lines.append(
            f"Your own tests and those of other studios disagree on harm{to_other}: "
            f"{told.ours[1]} of {told.ours[0]} here, {harmed} of {looks} there. Trust your own first."
        )
    if pooled.held_back:
        lines.append(
            "Other studios' tests were held back: however many they are, they carry a chance only so far "
            "from what your own tests say."
        )
    if told.chemistry_apart:
        lines.append(
            f"Other studios and chemistry disagree: {hits} released of {tests} where chemistry expected "
            f"{told.release.expected:.1f}."
        )
    if pooled.own >= 2 and print_released and (pooled.released / pooled.own >= 0.5) not in print_released:
        lines.append("Other studios' tests and the reports in print disagree.")
    return lines
