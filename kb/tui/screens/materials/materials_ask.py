"""What the materials screen asks of the desk. These run in a thread, under the desk's lock."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.tui.text import cut

if TYPE_CHECKING:
    from kb.desk.materials.filter import Evaporation
    from kb.desk.materials.lookup import Found
    from kb.desk.studio import Studio

AT_MOST = 60
LISTED = 500
"""Entries of one kind that are listed with nothing typed; typing reaches the rest."""
HELD = {None: "", True: "held here", False: "not held here"}
ALLOWED = {None: "", True: "allowed here", False: "forbidden here"}


class Filter(NamedTuple):
    """What liquids are narrowed to; empty and None: to nothing."""

    family: str = ""
    family_name: str = ""
    hazard: str = ""
    evaporation: Evaporation | None = None
    held: bool | None = None
    allowed: bool | None = None

    @property
    def words(self) -> str:
        """``family Ketone; evaporates fast; held here``; empty if nothing is narrowed."""
        said = (
            f"family {cut(self.family_name, 60)}" if self.family else "",
            f"label with {self.hazard}" if self.hazard else "",
            f"evaporates {self.evaporation}" if self.evaporation else "",
            HELD[self.held],
            ALLOWED[self.allowed],
        )
        return "; ".join(filter(None, said))


class Choices(NamedTuple):
    """What liquids can be narrowed by: id and name of families, code and text of statements."""

    families: list[tuple[str, str]]
    hazards: list[tuple[str, str]]


def find(studio: Studio, *, text: str, kind: str, narrowed: Filter, fresh: bool) -> list[Found]:
    """What fits the typed words, best first; with nothing typed all entries of the kind."""
    from kb.desk.materials import lookup

    if fresh:
        studio.refresh()
    if kind != "liquid" or not narrowed.words:
        if text.strip():
            return lookup.find(studio, text, (kind,) if kind else (), AT_MOST)
        return lookup.all_of(studio, kind)[:LISTED] if kind else []
    wanted = {one.id for one in _liquids(studio, narrowed)}
    found = lookup.find(studio, text, (kind,), LISTED) if text.strip() else lookup.all_of(studio, kind)
    return [one for one in found if one.id in wanted][: AT_MOST if text.strip() else LISTED]


def _liquids(studio: Studio, narrowed: Filter) -> list[Found]:
    from kb.desk.materials.filter import liquids
    from kb.desk.materials.lookup import Found

    met = liquids(
        studio,
        family=narrowed.family,
        hazard=narrowed.hazard,
        evaporation=narrowed.evaporation,
        held=narrowed.held,
        allowed=narrowed.allowed,
    )
    return [Found(kind="liquid", id=one.id, name=one.name, matched="", score=0.0) for one in met]


def count(studio: Studio, *, narrowed: Filter) -> int:
    return len(_liquids(studio, narrowed))


def choices(studio: Studio) -> Choices:
    """Families that have a liquid, and statements that stand on a label; each with its words."""
    from kb.desk.materials.filter import liquids
    from kb.desk.materials.lookup import names

    known = liquids(studio)
    families = {one.family for one in known}
    texts = dict(names(studio, "hazard"))
    # An organ in brackets narrows a statement on one label; the code alone finds all of them.
    codes = sorted({code.split(" ", 1)[0] for one in known for code in one.statements})
    return Choices(
        sorted(
            (one for one in names(studio, "family") if one[0] in families), key=lambda one: one[1].casefold()
        ),
        [(code, texts.get(code) or texts.get(code[:4], "")) for code in codes],
    )
