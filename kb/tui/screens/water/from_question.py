"""What the question on the first screen says of the sheet, for screens that plan with water."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.tui.screens.water.bath_form import InReach

if TYPE_CHECKING:
    from kb.tui.bench import Bench
    from kb.tui.screens.choose.asked import Asked


def asked_of(app: Bench) -> Asked | None:
    """The question as it stands; None if that screen was never shown."""
    from kb.tui.screens.choose.home import HomeScreen

    for screen in app.screens_at("home"):
        if isinstance(screen, HomeScreen):
            return screen.asked
    return None


def in_reach(app: Bench) -> InReach:
    """Sheet, every medium on both faces, and paper, of the question."""
    asked = asked_of(app)
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
