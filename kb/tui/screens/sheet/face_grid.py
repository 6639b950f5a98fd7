"""A face of a sheet in cells of the terminal: its edge, its patches by pattern and letter.

Drawing a strip on a face by keys: a corner, then the corner across from it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, get_args

from textual.content import Content
from textual.events import Key
from textual.widgets import DataTable, Static

from kb.book.kinds.condition import Damage
from kb.science.numbers import counted
from kb.science.sheet.polygons import inside
from kb.tui.actions import Act, bindings
from kb.tui.screens.ask_why import stores
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.text import cut
from kb.tui.widgets.choice_row import FACES, One

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.sheet.tape import PatchView, TapeView
    from kb.desk.sheet.view import SheetView
    from kb.desk.studio import Studio

CELL_RATIO = 2.0
"""A cell of a terminal is about twice as high as it is wide."""
LEGIBLE = 5
"""Cells across that a patch needs to bear its number and letter, and some of its pattern."""
PATTERNS = {"todo": "░", "now": "▒", "done": "█", "look": "▓", "partly": "▚", "skipped": "x", "stopped": "="}
WEAK = "w"
"""The pattern of patches to come where the paper is weak: the plan leaves them to the last."""
STYLES = {
    "todo": "$secondary",
    "now": "$primary",
    "done": "$success",
    "look": "$warning",
    "partly": "$success",
    "skipped": "$secondary",
    "stopped": "$error",
    "edge": "$secondary",
    "draw": "$accent bold",
    "": "",
}
LEGEND = (
    ("done", "D lifted"),
    ("look", "L look at the pair"),
    ("now", "N now"),
    ("partly", "P in part"),
    ("skipped", "X left out"),
    ("stopped", "S stopped"),
    ("todo", "to do"),
)


Box = tuple[float, float, float, float]
"""Left, top, right and bottom, in mm."""


class Cell(NamedTuple):
    """A character and what it stands for: a state of a patch, ``edge``, ``draw`` or nothing."""

    sign: str = " "
    means: str = ""


class Scale(NamedTuple):
    """How many cells a sheet takes inside its edge, and how many mm a cell is; of a part of it, which.

    ``cut`` are the edges at which the sheet goes on: left, top, right, bottom.
    """

    across: int
    down: int
    mm_across: float
    mm_down: float
    left_mm: float = 0.0
    top_mm: float = 0.0
    cut: tuple[bool, bool, bool, bool] = (False, False, False, False)


def scale_for(width_mm: float, height_mm: float, columns: int, rows: int) -> Scale:
    """The largest drawing of the sheet, edge included, in so many columns and rows."""
    inside, high = max(4, columns - 2), max(2, rows - 2)
    down = min(high, max(2, round(inside * height_mm / width_mm / CELL_RATIO)))
    across = min(inside, max(4, round(down * width_mm / height_mm * CELL_RATIO)))
    return Scale(across, down, width_mm / across, height_mm / down)


def nearer(
    whole: Scale, patches: Sequence[PatchView], about: Mapping[str, PatchView | None], columns: int, rows: int
) -> dict[str, Scale] | None:
    """A part of each face so large that its patches can be told apart; None where the whole shows them.

    Faces with tape are drawn at one scale; one without is drawn whole. Where not all the tape of a face fits,
    the patch ``about`` stands in the middle.
    """
    boxes = {face: [_box(one) for one in patches if one.face == face] for face in about}
    widths = sorted(right - left for found in boxes.values() for left, _, right, _ in found)
    if not widths or widths[len(widths) // 2] >= LEGIBLE * whole.mm_across:
        return None
    inside, high = columns - 2, rows - 2
    round_all = {face: _around(found) for face, found in boxes.items() if found}
    fits = max(
        max((right - left) / max(1, inside - 2), (bottom - top) / max(1, high - 1) / CELL_RATIO)
        for left, top, right, bottom in round_all.values()
    )
    middle = widths[len(widths) // 2]
    # As much of the tape as stays legible, and no patch as wide as half the room.
    mm = min(max(fits, 2 * middle / inside), middle / LEGIBLE, whole.mm_across)
    size = whole.across * whole.mm_across, whole.down * whole.mm_down
    found: dict[str, Scale] = {}
    for face, patch in about.items():
        if patch is None:
            # No tape lies on it.
            found[face] = whole
            continue
        cells = min(inside, math.ceil(size[0] / mm)), min(high, math.ceil(size[1] / mm / CELL_RATIO))
        found[face] = _part(size, _box(patch), round_all[face], mm, cells)
    return found


def _part(size: tuple[float, float], patch: Box, tape: Box, mm: float, cells: tuple[int, int]) -> Scale:
    """The part of a sheet with all its tape, or around a patch as much of it as there is room for."""
    shown = cells[0] * mm, cells[1] * mm * CELL_RATIO
    corner = []
    for axis, cell in enumerate((mm, mm * CELL_RATIO)):
        room, low, high = shown[axis], tape[axis] - cell, tape[axis + 2] + cell
        start = (low + high - room) / 2
        if high - low > room:
            start = min(max(low, (patch[axis] + patch[axis + 2] - room) / 2), high - room)
        corner.append(min(max(0.0, start), max(0.0, size[axis] - room)))
    left, top = corner
    cut = left > 0, top > 0, left + shown[0] < size[0] - mm / 2, top + shown[1] < size[1] - mm / 2
    return Scale(*cells, mm, mm * CELL_RATIO, left, top, cut)


def _box(patch: PatchView) -> Box:
    xs, ys = [x for x, _ in patch.polygon], [y for _, y in patch.polygon]
    return min(xs), min(ys), max(xs), max(ys)


def _around(boxes: Sequence[Box]) -> Box:
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def face_cells(
    patches: Sequence[PatchView], scale: Scale, chosen: str = "", drawn: Box | None = None
) -> list[list[Cell]]:
    """Rows of cells. ``drawn`` is the strip being drawn, in mm: left, top, right, bottom."""
    grid = [[Cell() for _ in range(scale.across)] for _ in range(scale.down)]
    # Several patches share a cell of a small drawing: what was worked on is drawn over what is to do, and the
    # one that is next over both, so that nobody begins there again.
    for patch in sorted(patches, key=lambda one: (one.id == chosen, one.state != "todo")):
        _fill(grid, patch, scale, chosen=patch.id == chosen)
    if drawn is not None:
        left, top, right, bottom = _cells_of(drawn, scale)
        for y in range(top, bottom + 1):
            for x in range(left, right + 1):
                grid[y][x] = Cell("▒", "draw")
    # Dotted where the sheet goes on.
    sides = [dots if cut else line for dots, line, cut in zip("┊┈┊┈", "│─│─", scale.cut, strict=True)]
    return [
        [Cell(sign, "edge") for sign in f"┌{sides[1] * scale.across}┐"],
        *([Cell(sides[0], "edge"), *row, Cell(sides[2], "edge")] for row in grid),
        [Cell(sign, "edge") for sign in f"└{sides[3] * scale.across}┘"],
    ]


def label_of(patch: PatchView, room: int) -> str:
    """As much of number and letter as there is room for: the letter last, since it tells the state."""
    from kb.desk.sheet.tape import LETTERS

    letter, number = LETTERS[patch.state], patch.id[1:]
    # Numbers of patches to come that stand close together cannot be told apart: some of their pattern is left
    # beside a number with its blanks, and on both sides of one without.
    wanted = (
        (f" {number}{letter} ", 0 if letter else 1),
        (f"{number}{letter}", 0 if letter else 2),
        (letter, 0),
    )
    return next((words for words, around in wanted if words and len(words) + around <= room), "")


def _cells_of(box: Box, scale: Scale) -> tuple[int, int, int, int]:
    """First and last column and row that a rectangle in mm covers; at least one of each."""
    left, right = (round((place - scale.left_mm) / scale.mm_across) for place in (box[0], box[2]))
    top, bottom = (round((place - scale.top_mm) / scale.mm_down) for place in (box[1], box[3]))
    left, top = min(left, scale.across - 1), min(top, scale.down - 1)
    return left, top, min(max(left, right - 1), scale.across - 1), min(max(top, bottom - 1), scale.down - 1)


def _fill(grid: list[list[Cell]], patch: PatchView, scale: Scale, *, chosen: bool) -> None:
    box = _box(patch)
    ends = scale.left_mm + scale.across * scale.mm_across, scale.top_mm + scale.down * scale.mm_down
    if box[0] >= ends[0] or box[1] >= ends[1] or box[2] <= scale.left_mm or box[3] <= scale.top_mm:
        # Of a part of the sheet that is not shown.
        return
    left, top, right, bottom = _cells_of(box, scale)
    left, top = max(0, left), max(0, top)
    sign = WEAK if patch.weak and patch.state == "todo" else PATTERNS[patch.state]
    upright = len(patch.polygon) == 4 and len({round(x) for x, _ in patch.polygon}) <= 2
    for y in range(top, bottom + 1):
        for x in range(left, right + 1):
            middle = (scale.left_mm + (x + 0.5) * scale.mm_across, scale.top_mm + (y + 0.5) * scale.mm_down)
            if upright or inside(middle, patch.polygon):
                grid[y][x] = Cell(sign, patch.state)
    words = label_of(patch, right - left + 1)
    words = f"[{words.strip()}]" if chosen and len(words.strip()) + 2 <= right - left + 1 else words
    row, start = (top + bottom) // 2, left + (right - left + 1 - len(words)) // 2
    for column, character in enumerate(words, start):
        grid[row][column] = Cell(character, f"{patch.state} label")


STEP_MM, FINE_MM = 5.0, 1.0
SHARE = 0.1
"""Where the pen starts, and how large the strip is at first, as a part of the sheet."""
MOVES = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}


class StripPen:
    """Where the pen is, in mm from the left and top edges of the face as one looks at it."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.size = width_mm, height_mm
        self.face = "front"
        self.weak = ""
        self.corner: tuple[float, float] | None = None
        self.at = STEP_MM * round(SHARE * width_mm / STEP_MM), STEP_MM * round(SHARE * height_mm / STEP_MM)

    @property
    def box(self) -> Box:
        """Left, top, right, bottom of what would be stored; a dot before the first corner is set."""
        x, y = self.at
        if self.corner is None:
            return x, y, x, y
        a, b = self.corner
        return min(a, x), min(b, y), max(a, x), max(b, y)

    @property
    def words(self) -> str:
        """Where one is and what comes next."""
        left, top, right, bottom = self.box
        what = f"weak zone ({self.weak})" if self.weak else "strip"
        if self.corner is None:
            return f"{what}, {self.face}: {left:g}, {top:g} mm. Arrows 5 mm, with Shift 1 mm"
        return (
            f"{what}, {self.face}: {right - left:g} x {bottom - top:g} mm at {left:g}, {top:g}. "
            "Arrows 5 mm, with Shift 1 mm"
        )

    def strip(self) -> dict[str, str]:
        """The strip as words of its record."""
        left, top, right, bottom = self.box
        return {
            "face": self.face,
            "at": f"{left:g}, {top:g}",
            "size": f"{right - left:g} x {bottom - top:g} mm",
            "weak": self.weak,
        }

    def key(self, key: str) -> bool | None:
        """None: not for the pen. True: the strip is ready to be stored."""
        name = key.removeprefix("shift+")
        if name in MOVES:
            step = FINE_MM if key != name else STEP_MM
            self.at = (
                min(max(0.0, self.at[0] + step * MOVES[name][0]), self.size[0]),
                min(max(0.0, self.at[1] + step * MOVES[name][1]), self.size[1]),
            )
            return False
        if key == "tab" and self.corner is None:
            self.face = "back" if self.face == "front" else "front"
            return False
        if key == "w":
            kinds = ("", "fold", "tear", "loss", "friable media")
            self.weak = kinds[(kinds.index(self.weak) + 1) % len(kinds)]
            return False
        if key == "enter":
            left, top, right, bottom = self.box
            if self.corner is not None:
                return right > left and bottom > top
            self.corner = self.at
            return False
        return None


def drawn_row(cells: list[Cell]) -> Content:
    """Neighbours of one meaning in one piece."""
    parts: list[Content] = []
    run, means = "", ""
    for cell in [*cells, Cell("", "end")]:
        if cell.means != means:
            if run:
                state, _, label = means.partition(" ")
                style = f"{STYLES[state]} bold" if label else STYLES[state]
                parts.append(Content.styled(run, style) if style.strip() else Content(run))
            run, means = "", cell.means
        run += cell.sign
    return Content.assemble(*parts)


def titled(patch: PatchView) -> str:
    return f"Patch {patch.id[1:]}, {patch.face}"


def corner_of(patch: PatchView) -> str:
    """Where a patch begins; its number may pass to another when strips are added."""
    across, down = (min(point[axis] for point in patch.polygon) for axis in (0, 1))
    return f": {patch.face}, from {across:g} mm across and {down:g} mm down"


def legend(tape: TapeView | None) -> Content:
    """The states that some patch of the sheet is in, by pattern and letter."""
    patches = tape.patches if tape else ()
    states = {patch.state for patch in patches}
    parts = [
        Content.styled(PATTERNS[state] * 2, STYLES[state]) + Content(f" {words}   ")
        for state, words in LEGEND
        if state in states
    ]
    if any(patch.weak and patch.state == "todo" for patch in patches):
        parts.append(Content(f"{WEAK * 2} weak, last"))
    return Content.assemble(*parts)


def progress_bar(tape: TapeView | None) -> Content:
    """How many patches are lifted, and how many are to be looked at."""
    if tape is None:
        # What the two faces and the pane beside them do not say already.
        return Content("")
    from kb.desk.sheet.view import lifted_area

    whole, area = len(tape.patches), lifted_area(tape)
    full = round(20 * tape.done / whole) if whole else 0
    look = sum(patch.state == "look" for patch in tape.patches)
    words = Content(f"  {tape.done} of {counted(whole, 'patch', 'patches')} lifted, front + back: {area}")
    if look:
        # In place of the bar: at the end it would be cut on a small screen.
        return Content.styled(f"! {look} to look at", "bold $warning") + words
    return Content.styled("━" * full, "$success") + Content.styled("─" * (20 - full), "$secondary") + words


def now_lines(tape: TapeView | None, *, sized: bool, unknown: Sequence[str] = ()) -> list[str]:
    """What is to be done now, and which names are ``unknown`` to the catalogue, so that no answer heeds them.

    ``sized``: the size of the sheet is known, so that tape can be drawn.
    """
    if unknown and not (tape and tape.decide):
        first, *rest = now_lines(tape, sized=sized)
        named = ", ".join(unknown)
        return [first, f"! No name here: {named}. No answer can reckon with it; / mends it.", *rest]
    if tape is None:
        return [
            "No tape is drawn yet." if sized else "Say its size first",
            "",
            "A draws a strip or a weak place with the arrow keys."
            if sized
            else "/ opens what is known of it.",
            "",
            "N then begins patch after patch.",
        ]
    if tape.decide:
        patch = next(patch for patch in tape.patches if patch.state == "look")
        found = patch.done.colour if patch.done else ""
        seen = found if found not in {"", "none"} else "a possible change between the photographs"
        return [
            f"! Stop: patch {patch.id[1:]}, {patch.face}",
            f"seen: {seen}",
            "",
            "G: what was decided.",
            "Look at the place first.",
        ]
    if not tape.next:
        return ["All patches are lifted", "or left out.", "", "R writes the record."]
    patch = next(patch for patch in tape.patches if patch.id == tape.next)
    running = patch.done is not None and patch.done.progress == "running"
    coming = next((other for other in tape.patches if other.id == patch.partner), None)
    after = (
        [f"Then turn the sheet: patch {coming.id[1:]}, {coming.face}, so that the faces stay even."]
        if coming
        else []
    )
    return [
        f"Patch {patch.id[1:]}, {patch.face}" + (" (weak)" if patch.weak else ""),
        "{:.0f} across, {:.0f} mm down".format(*_box(patch)),
        "under way: N when done" if running else "N begins it",
        *([] if running or tape.done else ["L: which liquid first"]),
        *(["with " + cut(patch.done.liquid, 20)] if running and patch.done and patch.done.liquid else []),
        *(["", *after] if after else []),
        "",
        *_left(tape),
    ]


def _left(tape: TapeView) -> list[str]:
    """How long the rest takes. A guess is told to the hour: minutes would look as if they were measured."""
    from kb.desk.sheet.view import hours

    if tape.own_rates:
        return [f"Left: about {hours(tape.minutes_left)} of work and {tape.ml_left:.0f} ml"]
    rough = f"{max(1, round(tape.minutes_left / 60))} h"
    return [f"Left: some {rough} of work, a guess until five patches were timed"]


PEN = (
    Act("pen('enter')", "enter", "Corner, store", "Set the first corner; at the second one store the strip"),
    Act("pen('tab')", "tab", "Turn", "The other face, before the first corner"),
    Act("pen('w')", "w", "Weak", "A weak zone: of a fold, a tear, a loss, friable media; or tape again"),
    Act("figures", "f", "Figures", "Type place, size and which tape it is, in place of drawing"),
)
"""Keys while a strip is drawn, beside the arrows; no other works then."""
STRIP = (
    Asked("face", "Face", choices=FACES[1:]),
    Asked("at", "From left, top", "e.g. 140, 435 mm; no unit: mm", bare="mm"),
    Asked("size", "Size", "e.g. 60 x 25 mm; no unit: mm", bare="mm"),
    Asked("tape", "Which tape", "a name, or any words"),
    Asked("weak", "Weak zone", "fold, tear, loss; empty: it is tape"),
)
FOUND = tuple(One(at[0], at, "treatment", f"{at[0].upper()} {at}") for at in ("before", "during", "after"))
WRONG = (
    Asked("damage", "What", "tear, stain, tideline, old mend ...", among=get_args(Damage)),
    Asked("face", "Face", choices=FACES),
    Asked("place", "Where", "in words"),
    Asked("width_mm", "Width", "e.g. 45 mm; no unit: mm", bare="mm"),
    Asked("height_mm", "Height", "e.g. 20 mm; no unit: mm", bare="mm"),
    Asked("found", "Found", choices=FOUND),
)


class DrawsFaces(DeskScreen[None]):
    """A screen with both faces, each in a pane of its name. Strips are drawn on them or typed; while one is,
    only the keys of the pen work.
    """

    BINDINGS = bindings(PEN)
    sheet: str
    pen: StripPen | None = None
    from_afar = False
    """Whether the whole sheet is drawn, also where its patches are too small to be told apart."""

    draw: Callable[[], None]
    """Everything that is shown."""
    look: Callable[[], None]
    """Read the sheet as it stands."""

    @property
    def view(self) -> SheetView | None:
        """What is known of the sheet; None before it was read."""
        raise NotImplementedError

    def action_liquid(self) -> None:
        sheet = self.sheet
        self.bench.put_into_question(lambda asked: asked.put_sheet(sheet))

    def scale(self) -> Scale | None:
        """How the whole sheet fits into a face; None while its size is not known."""
        if self.view is None:
            return None
        record, room = self.view.record, self.query_one("#front", Static).content_size
        if not record.width_mm or not record.height_mm or room.width < 6 or room.height < 4:
            return None
        return scale_for(record.width_mm, record.height_mm, room.width, room.height)

    def parts(self) -> dict[str, Scale] | None:
        """The part of each face where its patches are, if the whole sheet shows them a cell or two wide."""
        tape, whole = self.view.tape if self.view else None, self.scale()
        if tape is None or whole is None or self.pen is not None:
            return None
        room = self.query_one("#front", Static).content_size
        # What is next or waits for a decision, else what comes next on that face, else what was begun there.
        order = sorted(
            tape.patches, key=lambda one: (one.id != tape.next, one.state != "look", one.state != "todo")
        )
        about = {face: next((one for one in order if one.face == face), None) for face in ("front", "back")}
        return nearer(whole, tape.patches, about, room.width, room.height)

    def face(self, face: str) -> Content:
        """A face in cells; its edge says how to see more of it, or nearer."""
        scale, parts = self.scale(), self.parts()
        pane = self.query_one(f"#{face}", Static)
        pane.border_title = face
        if self.view is None or not self.view.record.width_mm:
            # How to say it stands beside the faces.
            return Content("\n  size not known")
        if scale is None:
            return Content("")
        if parts is not None and parts[face] != scale:
            pane.border_title = f"{face}: Z {'nearer' if self.from_afar else 'whole'}"
            scale = scale if self.from_afar else parts[face]
        tape = self.view.tape
        patches = [patch for patch in tape.patches if patch.face == face] if tape else []
        drawn = self.pen.box if self.pen is not None and self.pen.face == face else None
        rows = face_cells(patches, scale, tape.next if tape else "", drawn)
        return Content("\n").join([drawn_row(cells) for cells in rows])

    def action_zoom(self) -> None:
        """The whole sheet, or the part with the patches."""
        self.from_afar = not self.from_afar
        self.draw()

    def on_key(self, event: object) -> None:
        """While a strip is drawn the arrows, Enter, Tab and W belong to it."""
        if isinstance(event, Key) and self.action_pen(event.key):
            event.stop()
            event.prevent_default()

    def action_pen(self, key: str) -> bool:
        """A key of the pen, also one that is clicked at the foot; False if it is none of its own."""
        ready = None if self.pen is None else self.pen.key(key)
        if self.pen is None or ready is None:
            return False
        if ready:
            self.ask(
                partial(_typed_strip, sheet=self.sheet, words=self.pen.strip()), self._drawn, group="strip"
            )
        self.draw()
        return True

    def action_figures(self) -> None:
        """The strip that is being drawn, typed; what the pen holds already stands there."""
        if self.pen is not None:
            left, top, *_ = self.pen.box
            before = {"face": self.pen.face, "at": f"{left:g}, {top:g}", "weak": self.pen.weak}
            self._put_pen_down()
            store = partial(_typed_strip, sheet=self.sheet)
            self.app.push_screen(
                FewLines("Strip of tape, or a weak zone", STRIP, store, before, says=self.sheet),
                lambda _: self.look(),
            )

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While a strip is drawn only what belongs to it works, and stands at the foot."""
        if action in {"pen", "figures"}:
            return self.pen is not None
        # What the app itself does - help, places, leaving - works as ever.
        return self.pen is None or action == "leave" or not hasattr(type(self), f"action_{action}")

    def _drawn(self, _: Written) -> None:
        self._put_pen_down()
        self.look()

    def _put_pen_down(self) -> None:
        self.pen = None
        self.query_one(DataTable).focus()
        self.refresh_bindings()
        self.draw()


@stores
def _typed_strip(studio: Studio, words: Mapping[str, str], *, sheet: str) -> Written:
    from kb.desk.sheet.tape import add_strip

    return add_strip(studio, {**words, "sheet": sheet})
