"""What was looked at on a tape, and the list of looks in words. No widgets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from kb.tui.text import cut, fit

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.identification import Identification, NextLook
    from kb.model.question import Possible

NOT_LOOKED = ""
CANNOT = "?"
"""Stands for a finding where the look cannot be taken; the desk then proposes another one."""
GROUPS = (
    "Eye",
    "Finger, needle, ear and nose",
    "Water drop",
    "Lamp and filter",
    "Crumb",
    "Laboratory",
    "Date",
)
EYE, FINGER, WATER, LAMP, CRUMB, LABORATORY, DATE = range(len(GROUPS))
PLACES: Mapping[str, tuple[int, str]] = {
    "made-of": (EYE, "What the strip is made of"),
    "form": (EYE, "Shape"),
    "visible": (EYE, "How much it stands out"),
    "colour": (EYE, "Colour of the strip"),
    "gloss": (EYE, "Sheen of the outer face"),
    "weave": (EYE, "Weave"),
    "threads": (EYE, "Threads or metal sheen"),
    "crinkled": (EYE, "Crinkles"),
    "faces": (EYE, "Adhesive on both faces"),
    "adhesive-colour": (EYE, "Colour of the adhesive"),
    "layer": (EYE, "Layer of adhesive"),
    "halo": (EYE, "Paper round the strip"),
    "through": (EYE, "Gone through the sheet"),
    "inks": (EYE, "Ink beside it"),
    "state": (FINGER, "Condition of the strip"),
    "loose": (FINGER, "Does the strip hold"),
    "thickness": (FINGER, "Thickness"),
    "tack": (FINGER, "Tack without water"),
    "hardness": (FINGER, "Adhesive under a needle"),
    "oil": (FINGER, "Oil or pulled threads"),
    "stretch": (FINGER, "Stretch"),
    "tear": (FINGER, "Tear"),
    "writes": (FINGER, "Takes a pencil"),
    "sound": (FINGER, "Sound when bent"),
    "smell": (FINGER, "Smell"),
    "water-strip": (WATER, "Water on the strip"),
    "water-adhesive": (WATER, "Water on the adhesive"),
    "uv": (LAMP, "Adhesive under UV lamp"),
    "polars": (LAMP, "Between crossed filters"),
    "acetone": (CRUMB, "Acetone on the strip"),
    "aliphatic": (CRUMB, "Heptane on the adhesive"),
    "warmth": (CRUMB, "Gentle warmth"),
    "flame": (CRUMB, "Hot copper wire"),
    "protein": (CRUMB, "Protein test"),
    "iodine": (CRUMB, "Iodine"),
    "infrared-strip": (LABORATORY, "Infrared, strip"),
    "infrared-adhesive": (LABORATORY, "Infrared, adhesive"),
    "year": (DATE, "Year applied"),
}
"""Where a look stands in the list, and the few words a line has room for. A look that is not named here, such
as a studio's own, goes by what it takes and shows its question."""
BY_COST: Mapping[str, int] = {
    "needs a loose end": FINGER,
    "needs a lamp or filter": LAMP,
    "removes a crumb": CRUMB,
    "needs a laboratory": LABORATORY,
}
WORDS = 26
"""Cells for the words of a look where the finding needs the rest of the line."""
_YEAR = re.compile(r"\b(1[6-9]|20)\d\d\b")


@dataclass
class Looked:
    """Findings by look. ``said`` holds a date as it was typed, where the finding is a span of years."""

    found: dict[str, str] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)
    _before: tuple[dict[str, str], dict[str, str]] = ({}, {})

    def put(self, look: str, finding: str, said: str = "") -> None:
        """Note a finding; an empty one takes back what was noted."""
        self._keep()
        self.said.pop(look, None)
        if finding == NOT_LOOKED:
            self.found.pop(look, None)
            return
        self.found[look] = finding
        if said:
            self.said[look] = said

    def put_all(self, found: Mapping[str, str]) -> None:
        """Note several findings in one change, which one undo takes back."""
        self._keep()
        for look in found:
            self.said.pop(look, None)
        self.found |= found

    def clear(self) -> None:
        self._keep()
        self.found.clear()
        self.said.clear()

    def undo(self) -> None:
        """As it was before the last change; twice brings the change back."""
        before = self._before
        self._keep()
        self.found, self.said = before

    def _keep(self) -> None:
        self._before = (dict(self.found), dict(self.said))

    @property
    def told(self) -> bool:
        """Whether anything was found at all."""
        return any(finding != CANNOT for finding in self.found.values())


class Weighed(NamedTuple):
    """What the desk makes of the findings: all looks there are, and the answer."""

    looks: tuple[NextLook, ...]
    answer: Identification


def weigh(studio: Studio, found: Mapping[str, str], *, fresh: bool = False) -> Weighed:
    """Rank the tapes. For a thread. Findings that the catalogue no longer has are left out."""
    from kb.desk.identify.identify import identify, looks

    if fresh:
        studio.refresh()
    listed = looks(studio)
    return Weighed(tuple(listed), identify(studio, _still_known(listed, found), len(listed)))


def possible(studio: Studio, found: Mapping[str, str]) -> tuple[Possible, ...]:
    """What the tape may be, for the question. For a thread."""
    from kb.desk.choose.may_be import possible_from
    from kb.desk.identify.identify import looks

    return tuple(possible_from(studio, _still_known(looks(studio), found)))


def _still_known(looks: Iterable[NextLook], found: Mapping[str, str]) -> dict[str, str]:
    known = {look.look: {CANNOT, *(one.id for one in look.findings)} for look in looks}
    return {look: finding for look, finding in found.items() if finding in known.get(look, ())}


def dated(look: NextLook) -> bool:
    """Whether the findings are spans of years, so that a year can be typed."""
    return all(_YEAR.search(one.words) for one in look.findings)


def group_of(look: NextLook) -> int:
    """The place of a look's group in ``GROUPS``."""
    if look.look in PLACES:
        return PLACES[look.look][0]
    return DATE if dated(look) else BY_COST.get(look.cost, EYE)


def in_short(look: NextLook) -> str:
    """A look in a few words."""
    return PLACES[look.look][1] if look.look in PLACES else look.question


def chosen(look: NextLook, looked: Looked) -> str:
    finding = looked.found.get(look.look, NOT_LOOKED)
    if finding == CANNOT:
        return "cannot be looked at"
    words = next((one.words for one in look.findings if one.id == finding), "")
    said = looked.said.get(look.look, "")
    return f"{said} ({words})" if words and said else words or "not looked"


class Row(NamedTuple):
    """A line of the list; ``look`` is None for the heading of a group."""

    look: NextLook | None
    text: str


def rows(looks: Sequence[NextLook], looked: Looked, best: str, width: int) -> list[Row]:
    """All looks under the headings of their groups; N marks the one that tells most next."""
    made: list[Row] = []
    for place, group in enumerate(GROUPS):
        members = [look for look in in_order(looks) if group_of(look) == place]
        if members:
            done = sum(looked.found.get(look.look, CANNOT) != CANNOT for look in members)
            made.append(Row(None, cut(f" {group}: {done} of {len(members)}", width)))
            made += [Row(look, _row(look, looked, best, width)) for look in members]
    return made


def in_order(looks: Iterable[NextLook]) -> list[NextLook]:
    """Looks named here in their order, then the others by name, so that no line moves about."""
    places = {look: place for place, look in enumerate(PLACES)}
    return sorted(looks, key=lambda look: (places.get(look.look, len(places)), look.look))


def _row(look: NextLook, looked: Looked, best: str, width: int) -> str:
    words = max(10, min(WORDS, width // 2))
    mark = "N" if look.look == best else " "
    # The heading counts what was looked at; the rest of the column stays free, so that findings stand out.
    found = chosen(look, looked) if look.look in looked.found else ""
    return cut(f" {mark} {fit(in_short(look), words)} {found}", width).rstrip()
