#!/usr/bin/env python3
"""Draw the screens, filled in, from the app itself on a fresh copy of the demo studio.

scripts/pictures.py                  # the pictures of the README, into docs/
scripts/pictures.py --all FOLDER     # every screen at both sizes, in every theme and without colour
scripts/pictures.py --all FOLDER air # only one
"""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from textual import events
from textual.filter import Monochrome
from textual.pilot import Pilot
from textual.worker import WorkerCancelled, WorkerFailed

from kb.desk.demo import open_demo
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.themes import DEFAULT, THEMES

DOCS = Path(__file__).resolve().parents[1] / "docs"
WIDE, SMALL = (120, 40), (80, 24)
CELL = 12.2
"""Width of a letter in a picture."""
DARK = "lamp"
NO_COLOUR = "no-colour"
ASK = ('"masking tape', '"oily', '"letterpress', '"wood pulp', "escape")
"""Steps are keys; what begins with a quotation mark is typed and ended by Enter, with '~ without Enter."""
AIR = ("f8", "~toluene", "down", "down", "~10 ml", "down", "down", "~20 m3", "down", "~1 to 2")
PLAN = ("f3", "e", "slash", '"mends', "p")
PATCHES = ("f10", '"QN-01')
SCENES: dict[str, tuple[str, ...]] = {
    "home": ASK,
    "map": (*ASK, "m"),
    "blends": (*ASK, "b", *["down"] * 4),
    "spot-test": (*ASK, "t", "~QN-02 tide table broadside", "down", "~lower left", "ctrl+n", "3", "a"),
    "book": ("f3",),
    "records": ("f3", "e", "slash", '"mends'),
    "plan": PLAN,
    "mend": (*PLAN, "m", "p", "~lower edge", "down", "down", "down", "~45 mm"),
    "materials": ("f4", '"acetone'),
    "identify": ("f5", "n", "2", "n", "4", "n", "4"),
    "make": ("f6", '"wheat starch paste'),
    "bath": ("f7", "~5 L", "down", "~8.5"),
    "wash": ("f7", "escape", "w", "~QN-08 star chart for night pilots"),
    "air": (*AIR, *["down"] * 3, "~2 h"),
    "shelf": ("f4", "down", "h"),
    "batches": ("f6", "down", "l"),
    "sheet": ("f10", '"QN-01'),
    "patches": PATCHES,
    "photographs": (*PATCHES, "o", "c"),
    "toning": (*PLAN, "t"),
    "housing": (*PLAN, "h"),
    "pressing": (*PLAN, "d"),
    "batch": ("f6", '"wheat starch paste', "b"),
    "compare": ("f4", '"acetone', "escape", "m", "slash", *["backspace"] * 7, '"ethanol', "escape", "m", "v"),
    "pool": ("f4", "down", "h", "o"),
    "record": ("f3", "enter"),
    "tour": ("ctrl+g",),
    "settings": ("f12",),
    "help": ("f1",),
}


class Picture(NamedTuple):
    """One file: its scene, size and theme."""

    scene: str
    size: tuple[int, int] = WIDE
    theme: str = DEFAULT

    @property
    def name(self) -> str:
        """``home``; ``home-80`` where it is small, ``home-lamp`` where it is dark."""
        small = "" if self.size == WIDE else f"-{self.size[0]}"
        return f"{self.scene}{small}{'' if self.theme == DEFAULT else f'-{self.theme}'}"


APART = {
    *("settings", "help", "wash", "batches", "shelf", "sheet", "patches", "photographs", "toning", "housing"),
    *("pressing", "batch", "compare", "pool", "record", "tour"),
}
"""Scenes that the README does without."""
README = (
    *(Picture(scene) for scene in SCENES if scene not in APART),
    *(Picture(scene, SMALL) for scene in ("home", "spot-test", "air")),
    *(Picture(scene, WIDE, DARK) for scene in ("home", "air")),
)


async def rest(pilot: Pilot[Any], turns: int = 6) -> None:
    """Let workers finish and the screen settle."""
    for _ in range(turns):
        await pilot.pause(0.05)
        # What a later key overtook is cancelled, and that is as it should be.
        with suppress(WorkerCancelled, WorkerFailed):
            await pilot.app.workers.wait_for_complete()


async def step(pilot: Pilot[Any], what: str) -> None:
    """Press a key, or type a text."""
    if what[0] in '"~':
        for letter in what[1:]:
            pilot.app.post_message(events.Key("space" if letter == " " else letter, letter))
        await rest(pilot, 2)
        if what[0] == '"':
            pilot.app.post_message(events.Key("enter", "\r"))
    else:
        await pilot.press(what)
    await rest(pilot, 3)


def drawing(app: BenchleafApp) -> str:
    """The screen as SVG that asks for no font from elsewhere."""
    return placed(re.sub(r"@font-face \{.*?\}", "", app.export_screenshot(title="Benchleaf"), flags=re.S))


_BLANKS_FIRST = re.compile(
    r'x="([\d.]+)"( y="[\d.]+") textLength="([\d.]+)"([^>]*)>((?:&#160;)+)(?=[^<&]|&(?!#160;))'
)


def placed(svg: str) -> str:
    """The same, each text where its first letter stands: some programs leave out blanks before it, and words
    ran into what stands before them."""

    def moved(found: re.Match[str]) -> str:
        x, y, length, rest, blanks = found.groups()
        cells = CELL * blanks.count("&")
        return f'x="{float(x) + cells:.5g}"{y} textLength="{float(length) - cells:.5g}"{rest}>'

    return _BLANKS_FIRST.sub(moved, svg)


def turn_to(app: BenchleafApp, theme: str) -> None:
    """Another theme, or none: what is shown is drawn anew. Nothing turns colours on again."""
    if theme == NO_COLOUR:
        # As the library does at its start where NO_COLOR is set.
        app.no_color = True
        app._filters.append(Monochrome())
        app.theme = DEFAULT
        app.refresh_css(animate=False)
    elif theme != app.theme:
        app.theme = theme


async def draw(studio: Studio, scene: str, size: tuple[int, int], themes: list[str], folder: Path) -> None:
    """One scene at one size in each of the themes: walked to once, since the walk is what takes its time."""
    os.environ.pop("NO_COLOR", None)
    app = BenchleafApp(studio)
    async with app.run_test(size=size) as pilot:
        await rest(pilot)
        for what in SCENES[scene]:
            await step(pilot, what)
        await rest(pilot)
        for theme in sorted(themes, key=NO_COLOUR.__eq__):
            turn_to(app, theme)
            await rest(pilot, 2)
            # Notices of the moment are no part of the screen.
            app.clear_notifications()
            await rest(pilot, 2)
            picture = Picture(scene, size, theme)
            (folder / f"{picture.name}.svg").write_text(drawing(app), encoding="utf-8")
            print(picture.name, flush=True)


async def warm(studio: Studio) -> None:
    """The demo once opened, so that no scene begins by deriving what all of them need."""
    app = BenchleafApp(studio)
    async with app.run_test(size=WIDE) as pilot:
        await rest(pilot)


def every(scenes: list[str]) -> list[Picture]:
    """Each scene at both sizes in each theme, and without colour."""
    themes = [*(one.name for one in THEMES), NO_COLOUR]
    return [Picture(scene, size, theme) for scene in scenes for size in (WIDE, SMALL) for theme in themes]


def main() -> None:
    """Draw what was asked for, each in a studio as it was made."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--all", type=Path, metavar="FOLDER", help="every screen, into this folder")
    parser.add_argument("--theme", help="only this theme")
    parser.add_argument("scenes", nargs="*", help=", ".join(SCENES))
    args = parser.parse_args()
    scenes = args.scenes or list(SCENES)
    pictures = every(scenes) if args.all else [one for one in README if one.scene in scenes]
    folder = args.all or DOCS
    folder.mkdir(parents=True, exist_ok=True)
    together: dict[tuple[str, tuple[int, int]], list[str]] = {}
    for one in pictures:
        if not args.theme or one.theme == args.theme:
            together.setdefault((one.scene, one.size), []).append(one.theme)
    with tempfile.TemporaryDirectory() as place:
        demo = open_demo(Path(place) / "demo")
        asyncio.run(warm(demo))
        for number, ((scene, size), themes) in enumerate(together.items()):
            root = Path(place) / str(number)
            shutil.copytree(demo.root, root)
            asyncio.run(draw(Studio(root), scene, size, themes, folder))


if __name__ == "__main__":
    main()
