"""The form of a bath as typed, and the bath that it asks for. No widgets.

What the question on the first screen says of the sheet, for screens that plan with water.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.desk.water.bath_view import BathAnswer
    from kb.tui.bench import Bench
    from kb.tui.screens.choose.asked import Asked

FIRST = "Type a volume, and either a pH to reach or a strength."


class InReach(NamedTuple):
    """What the question on the first screen names of the sheet, and what the book knows of it besides."""

    sheet: str = ""
    media: tuple[str, ...] = ()
    paper: str = ""
    words: str = ""
    """Media and paper by name; empty where none is named."""


@dataclass
class BathForm:
    """Every line of the form, in words."""

    reagent: str = "calcium-hydroxide"
    volume: str = ""
    target_ph: str = ""
    strength: str = ""
    temperature: str = "20 C"
    air: str = "closed"
    depth: str = ""
    sheet_mass: str = ""
    acid: str = ""

    @property
    def begun(self) -> bool:
        """Whether enough is typed to reckon."""
        return bool(self.volume.strip() and (self.target_ph.strip() or self.strength.strip()))


def with_record(studio: Studio, near: InReach) -> InReach:
    """The same with what the record of the sheet says: all its media, and its paper if none is named."""
    from kb.desk.records.work_records import name_of
    from kb.desk.sheet.facts import sheet_facts

    if not near.sheet:
        return near
    facts = sheet_facts(studio, near.sheet)
    media = tuple(dict.fromkeys((*near.media, *facts.all_media)))
    paper = near.paper or facts.paper
    drawn = " + ".join(name_of(studio, ("medium",), one) for one in media) or "no medium named"
    words = f"{near.sheet}: {drawn} on {name_of(studio, ('paper',), paper) or 'paper not named'}"
    return InReach(near.sheet, media, paper, words if media or paper else "")


def reckon(studio: Studio, form: BathForm, near: InReach) -> BathAnswer:
    """The bath. Raises DeskError for words that are no amount, BathRefused where there is no such bath."""
    from kb.desk.amounts import celsius, grams, litres, millimetres, number, strength_mol_l
    from kb.desk.water.bath import Sheet, bath

    air: Literal["open", "closed"] = "open" if form.air == "open" else "closed"
    strength = form.strength.strip()
    return bath(
        studio,
        form.reagent,
        litres(form.volume),
        number(form.target_ph, "a pH"),
        celsius(form.temperature),
        air,
        strength_mol_l=strength_mol_l(form.reagent, strength) if strength else None,
        sheet=Sheet(
            dry_g=grams(form.sheet_mass) if form.sheet_mass.strip() else 0.0,
            acid_mmol_kg=number(form.acid, "an amount of acid"),
            media=near.media,
            paper=near.paper,
        ),
        depth_mm=millimetres(form.depth) if form.depth.strip() else None,
    )


def sheet_open(app: Bench) -> str:
    """The sheet that is open at any place; empty if none is, or several: which is meant is not guessed."""
    # By what the screen says of itself: those of a sheet open the ones of its washing, which ask here.
    found = {
        name
        for screen in app.every_screen()
        if isinstance(name := getattr(screen, "sheet", None), str) and name
    }
    return found.pop() if len(found) == 1 else ""


def asked_of(app: Bench) -> Asked | None:
    """The question as it stands; None if that screen was never shown."""
    from kb.tui.screens.choose.home import HomeScreen

    for screen in app.screens_at("home"):
        if isinstance(screen, HomeScreen):
            return screen.asked
    return None


def in_reach(app: Bench) -> InReach:
    """Sheet, every medium on both faces, and paper, of the question; of a sheet that is open its name.

    What the question says of one sheet is nothing that a bath of another may rest on.
    """
    asked, open_sheet = asked_of(app), sheet_open(app)
    if open_sheet and (asked is None or asked.id_of("sheet") != open_sheet):
        return InReach(sheet=open_sheet)
    if asked is None:
        return InReach()
    media = [asked.filled["medium"]] if "medium" in asked.filled else []
    media += [one for blank in ("also", "back") for one in asked.several.get(blank, ())]
    paper = asked.filled.get("paper")
    names = [one.name for one in dict.fromkeys(media)]
    words = f"{' + '.join(names) or 'no medium named'} on {paper.name if paper else 'paper not named'}"
    return InReach(
        sheet=asked.id_of("sheet"),
        media=tuple(dict.fromkeys(one.id for one in media)),
        paper=paper.id if paper else "",
        words=words if media or paper else "",
    )
