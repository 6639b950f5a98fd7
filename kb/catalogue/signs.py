"""Checks of looks: findings that can be told apart, and signs that say something possible of them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from kb.catalogue.parts import Part
from kb.catalogue.problems import Fault, NodePath, nearest, printable, quoted
from kb.model.kinds import plain_id
from kb.model.sign import SHARES, Look, Sign

MOST = 1.15
"""What the shares of one sign may add up to: words are rough, so a little above 1 is let pass."""
MOST_SUBJECTS = 2000
"""How many combinations of tape, carrier, adhesive and stage one sign may name."""
_SUBJECTS = ("tapes", "carriers", "adhesives", "stages")


def check_findings(part: Part) -> Iterator[Fault]:
    """A look has at least two findings, each with an id and words of its own."""
    look = part.struct
    if not isinstance(look, Look):
        return
    if len(look.findings) < 2:
        expected = "at least two findings; one of them may be that nothing is seen"
        yield Fault(("findings",), "a look with fewer than two findings tells nothing", expected)
    owner: dict[str, int] = {}
    for number, one in enumerate(look.findings):
        at: NodePath = ("findings", number)
        if one.id != plain_id(one.id) or not one.id:
            said = f"the id {quoted(one.id)} is not in plain form"
            yield Fault((*at, "id"), said, "lower case, with hyphens", f"id: {printable(plain_id(one.id))}")
        for name in (one.id, one.words, *one.also):
            if owner.setdefault(plain_id(name), number) != number:
                said = f"{quoted(name)} stands for two findings of this look"
                yield Fault(at, said, "words that mean one finding")
                break


def check_years(part: Part) -> Iterator[Fault]:
    """The findings of a dated look are spans of years in order; other findings have no years."""
    look = part.struct
    if not isinstance(look, Look):
        return
    after: int | None = None
    for number, one in enumerate(look.findings):
        at: NodePath = ("findings", number)
        first, last = one.first_year, one.last_year
        if not look.dated:
            if first is not None or last is not None:
                yield Fault(at, "a year stands in a look that is not dated", "dated: true, or no years")
            continue
        example = "{id: 1961-1969, words: 1961 to 1969, first_year: 1961, last_year: 1969}"
        open_start = first is None and number > 0
        open_end = last is None and number < len(look.findings) - 1
        if open_start or open_end:
            said = "only the first span may be open before, and only the last one after"
            yield Fault(at, said, "first_year and last_year", example)
        elif first is not None and last is not None and first > last:
            said = f"the span is reversed: {first} is after {last}"
            yield Fault((*at, "first_year"), said, "years in order")
        elif first is not None and after is not None and first <= after:
            said = f"the span from {first} begins before the one above it has ended ({after})"
            yield Fault((*at, "first_year"), said, "spans of years that follow one another")
        after = last


def check_signs(part: Part) -> Iterator[Fault]:
    """Each sign is about something, names findings of its look, and adds up to no more than always."""
    look = part.struct
    if not isinstance(look, Look):
        return
    known = [one.id for one in look.findings]
    for number, sign in enumerate(look.signs):
        at: NodePath = ("signs", number)
        if not any(getattr(sign, key) for key in _SUBJECTS):
            expected = "one of: " + ", ".join(_SUBJECTS)
            yield Fault(at, "the sign does not say of what", expected, "tapes: [masking-rubber]")
        if not sign.finds:
            example = f"finds: {{{known[0] if known else 'glossy'}: usually}}"
            yield Fault((*at, "finds"), "the sign names no finding", "at least one finding", example)
        for name in sign.finds:
            if name not in known:
                near = nearest(name, known)
                said = f"this look has no finding {quoted(name)}"
                said += f'; did you mean "{near}"?' if near else ""
                yield Fault((*at, "finds", name), said, "one of: " + ", ".join(known))
        total = sum(SHARES[word] for word in sign.finds.values())
        if total > MOST and not look.dated:
            said = f"the words add up to {total:.2f}, which is more than always"
            scale = ", ".join(f"{word} {share:g}" for word, share in SHARES.items())
            yield Fault((*at, "finds"), said, f"a sum of about 1 ({scale})")


def check_subjects(part: Part) -> Iterator[Fault]:
    """No two signs of a look are about the same thing: which of them counts would be chance."""
    look = part.struct
    if not isinstance(look, Look):
        return
    first: dict[tuple[str, ...], int] = {}
    for number, sign in enumerate(look.signs):
        named_count = math.prod(max(1, len(getattr(sign, key))) for key in _SUBJECTS)
        if named_count > MOST_SUBJECTS:
            said = f"the sign names {named_count} combinations"
            yield Fault(("signs", number), said, f"at most {MOST_SUBJECTS}; name fewer things at once")
            continue
        for subject in _subjects(sign):
            if first.setdefault(subject, number) != number:
                named = ", ".join(name for name in subject if name)
                said = f"a sign about {quoted(named)} stands above already (number {first[subject] + 1})"
                yield Fault(("signs", number), said, "one sign for each thing of a look")
                break


def _subjects(sign: Sign) -> Iterator[tuple[str, ...]]:
    """Every combination of tape, carrier, adhesive and stage that a sign names; empty: not named."""
    for tape in sign.tapes or ("",):
        for carrier in sign.carriers or ("",):
            for adhesive in sign.adhesives or ("",):
                for stage in sign.stages or ("",):
                    yield tape, carrier, adhesive, stage


SIGN_CHECKS = (check_findings, check_years, check_signs, check_subjects)
