"""The form of a bath as typed, and the bath that it asks for. No widgets.

What the question on the first screen says of the sheet, for screens that plan with water.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.desk.water.bath_view import BathAnswer
    from kb.tui.bench import Bench
    from kb.tui.screens.choose.asked import Asked

FIRST = "Type a volume, and either a pH to reach or a strength."


QUESTION = "of the question (F2)"


class InReach(NamedTuple):
    """What the question on the first screen names of the sheet, and what the book knows of it besides."""

    sheet: str = ""
    media: tuple[str, ...] = ()
    paper: str = ""
    words: str = ""
    """Whose they are, and media and paper by name; empty where none is named."""
    barred: str = ""
    """What takes no bath, as washing says it; empty: nothing is known to forbid one."""


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
    """The same with what the record of the sheet says: all its media, and its paper if none is named.

    And whether anything of it takes no water: who weighs out a bath has not asked for its washing.
    """
    from kb.desk.records.work_records import name_of
    from kb.desk.sheet.facts import sheet_facts
    from kb.desk.water.wash import Washing, plan_known

    if near.sheet:
        facts = sheet_facts(studio, near.sheet)
        media = tuple(dict.fromkeys((*near.media, *facts.all_media)))
        paper = near.paper or facts.paper
        drawn = " + ".join(name_of(studio, ("medium",), one) for one in media) or "no medium named"
        whose = f"{QUESTION}, sheet {near.sheet}" if near.media or near.paper else f"of sheet {near.sheet}"
        words = f"{whose}: {drawn} on {name_of(studio, ('paper',), paper) or 'paper not named'}"
        near = InReach(near.sheet, media, paper, words if media or paper else "")
    try:
        plan = plan_known(studio, Washing(near.sheet, near.media, near.paper, alkaline=True))
    except DeskError:
        # The page of washing says what cannot be read.
        return near
    return near._replace(barred=plan.headline if plan.verdict == "no" else "")


LABELS = {
    "volume": "Volume",
    "target_ph": "pH to reach",
    "temperature": "Temperature",
    "strength": "or strength",
    "sheet_mass": "Dry sheet",
    "acid": "its acid",
    "depth": "Depth",
}
"""How each typed line is headed, and called when it is refused."""


class Amounts(NamedTuple):
    """The typed lines as figures, None where one is empty; and by its label what is no amount."""

    figures: dict[str, float | None]
    faults: tuple[str, ...]


def amounts_of(form: BathForm) -> Amounts:
    """Every line that is typed, read by itself, so that one is named before the others are there."""
    from kb.desk.amounts import celsius, grams, litres, millimetres, number, strength_mol_l

    readers: dict[str, Callable[[str], float | None]] = {
        "volume": litres,
        "target_ph": lambda text: number(text, "a pH", 14),
        "temperature": celsius,
        "strength": lambda text: strength_mol_l(form.reagent, text),
        "sheet_mass": grams,
        "acid": lambda text: number(text, "an amount of acid"),
        "depth": millimetres,
    }
    figures: dict[str, float | None] = {}
    faults = []
    for name, read in readers.items():
        text = getattr(form, name).strip()
        try:
            figures[name] = read(text) if text else None
        except DeskError as error:
            faults.append(f"{LABELS[name]}: {error}")
    return Amounts(figures, tuple(faults))


def reckon(studio: Studio, form: BathForm, near: InReach) -> BathAnswer:
    """The bath. Raises DeskError for words that are no amount, BathRefused where there is no such bath."""
    from kb.desk.water.bath import Sheet, bath

    found, faults = amounts_of(form)
    if faults:
        raise DeskError("\n".join(faults))
    if found["temperature"] is None:
        raise DeskError(f"{LABELS['temperature']}: type it, such as 18 C; solubility hangs on it.")
    air: Literal["open", "closed"] = "open" if form.air == "open" else "closed"
    return bath(
        studio,
        form.reagent,
        found["volume"] or 0.0,
        found["target_ph"],
        found["temperature"],
        air,
        strength_mol_l=found["strength"],
        sheet=Sheet(
            dry_g=found["sheet_mass"] or 0.0, acid_mmol_kg=found["acid"], media=near.media, paper=near.paper
        ),
        depth_mm=found["depth"],
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
    """Of the question or of the sheet that is open, whichever was touched last, and never of both.

    Of the question sheet, every medium on both faces, and paper; of a sheet its name, for its record.
    """
    asked, open_sheet = asked_of(app), sheet_open(app)
    if app.in_hand == "nothing":
        return InReach()
    if app.in_hand == "sheet" and open_sheet and (asked is None or asked.id_of("sheet") != open_sheet):
        return InReach(sheet=open_sheet)
    return of_question(asked)


def of_question(asked: Asked | None) -> InReach:
    """What the question names, with its sheet."""
    if asked is None:
        return InReach()
    media = [asked.filled["medium"]] if "medium" in asked.filled else []
    media += [one for blank in ("also", "back") for one in asked.several.get(blank, ())]
    paper = asked.filled.get("paper")
    names = [one.name for one in dict.fromkeys(media)]
    drawn = f"{' + '.join(names) or 'no medium named'} on {paper.name if paper else 'paper not named'}"
    return InReach(
        sheet=asked.id_of("sheet"),
        media=tuple(dict.fromkeys(one.id for one in media)),
        paper=paper.id if paper else "",
        words=f"{QUESTION}: {drawn}" if media or paper else "",
    )
