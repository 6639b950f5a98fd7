"""Photographs of a sheet: its pairs, what comparing said, and a triptych to find the place again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from textual.app import ComposeResult
from textual.color import Color
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.style import Style
from textual.widgets import DataTable, Static

from kb.science.numbers import counted, percent
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.bench import in_words
from kb.tui.day import day_of
from kb.tui.drawing import Drawing
from kb.tui.screens.ask_why import draft_named, stores
from kb.tui.screens.at_desk import DeskScreen, Told
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.screens.long_work import LongWork, Progress, Work
from kb.tui.screens.sheet.comparing import Comparing
from kb.tui.text import cut, line
from kb.tui.widgets.choice_row import FACES

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.sheet.pictures_paired import Pair, Panel, Triptych
    from kb.desk.sheet.pictures_taken import Taken
    from kb.desk.studio import Studio

PHOTOGRAPHS = (
    Act("read", "enter", "Read", "All that comparing said of this pair", foot=False),
    Act("add", "a", "Add", "Take in a photograph, or all of a folder"),
    Act("pair", "p", "Pair", "Pair what shows one area before and after"),
    Act("swab", "s", "Swab", "Mark the swabbed area and the scale of this pair"),
    Act("compare", "c", "Compare", "Did the ink move? Compare this pair, in the background"),
    Act("compare_all", "k", "All", "Compare all pairs of the sheet that were not"),
    Act("stop", "x", "Stop", "Stop comparing; nothing is kept of the pair at work"),
    Act("view", "o", "Open", "Open the pictures of this row in the viewer of the system"),
    Act("dismiss", "escape", "Back", "Back to where you came from"),
)
TAKE = (
    Asked("file", "File or folder", "path of a picture, or of a folder of pictures"),
    Asked("area", "Patch or place", "F3, or lower edge"),
    Asked("face", "Face", choices=FACES),
    Asked("tags", "Tags", "before, during, after; raking, transmitted, uv"),
    Asked("px_per_mm", "Pixels per mm", "along 10 mm of a ruler, by 10"),
    Asked("swab", "Swabbed area", "x,y,r in pixels of the picture"),
)
MARK = (
    Asked("swab", "Swabbed area", "x,y,r: centre and radius, px of the one before"),
    Asked("px_per_mm", "Pixels per mm", "along 10 mm of a ruler, by 10"),
)
STATES = {
    "": "not compared",
    "no-change": "no change seen above noise",
    "possible-change": "POSSIBLE CHANGE: look here",
    "cannot-tell": "cannot tell",
}
NOTHING = "No photograph of this sheet is written down. A takes one in, or all of a folder."
TAKING = "Take photographs in"
STOPPED_TAKING = "Those taken in before are whole and on disk; to take the folder in again goes on."
ORIENTATION = "O opens the pictures."
FEW_COLOURS = "Colours unreliable."
ROOMY_ROWS = 34


class Shown(NamedTuple):
    """Pairs, and the photographs that belong to none."""

    pairs: list[Pair]
    single: list[Taken]


class PhotographsScreen(DeskScreen[None]):
    """Rows above; of the row chosen the triptych and what was said."""

    SAID = "#said"
    TITLE_WORDS = "Photographs"
    nothing_typed = True
    HELP = (
        "Photographs before and after of one place, paired. Photograph the patch with at least 10 mm around "
        "it that was not swabbed and has some ink, in the same side light, dry, without flash, and a ruler "
        "beside it. Mark the swabbed area: what lies outside it is the control. The answer is 'no change "
        "seen above noise', with the smallest halo that would have been seen, 'possible change', or 'cannot "
        "tell' with reasons. It informs and never says that something is safe; colour on a swab outranks "
        "it.\n\nThe pictures here are for orientation. O opens them to judge by.\n\n"
        f"{keys_in_words(PHOTOGRAPHS)}"
    )
    BINDINGS = bindings(PHOTOGRAPHS)
    CSS = """
    PhotographsScreen DataTable { height: 5; margin: 0 1; }
    PhotographsScreen #progress { height: 1; padding: 0 1; color: $primary; }
    PhotographsScreen #panels { height: 1fr; margin: 0 1; }
    PhotographsScreen .panel { width: 1fr; height: 100%; content-align: center middle; }
    PhotographsScreen .panel { border: round $secondary; border-title-color: $primary; }
    PhotographsScreen #words { height: 5; padding: 0 1; }
    PhotographsScreen #said { height: auto; }
    PhotographsScreen.-roomy DataTable { height: 10; }
    PhotographsScreen.-roomy #words { height: 8; }
    """

    def __init__(self, sheet: str, area: str = "") -> None:
        super().__init__()
        self.sheet = sheet
        self.area = area
        """The patch whose pair is to be found first."""
        self.shown: Shown | None = None
        self._state_room = 34
        """Cells for the answer of a pair."""
        self._worked_on = ""

    def body(self) -> ComposeResult:
        yield Static(line(f"Photographs of {self.sheet}"), classes="heading", markup=False)
        yield DataTable(cursor_type="row", zebra_stripes=False)
        yield Static("", id="progress", markup=False)
        with Horizontal(id="panels"):
            # All three have the same room, so that one of them tells when it changes.
            panels = (Drawing(self.draw_pair), Static(markup=False), Static(markup=False))
            for name, panel in zip(("before", "after", "difference"), panels, strict=True):
                panel.id, panel.border_title = name, name
                panel.add_class("panel")
                yield panel
        with VerticalScroll(id="words", can_focus=False):
            yield Static("", id="said", markup=False)

    @property
    def comparing(self) -> Comparing:
        """The queue of the app, made when it is first wanted."""
        if self.bench.comparing is None:
            begin = partial(self.app.run_worker, thread=True, group="compare", exit_on_error=False)
            self.bench.comparing = Comparing(self.bench.desk, begin)
        return self.bench.comparing

    def on_mount(self) -> None:
        """The table has its columns before it has rows."""
        table = self.query_one(DataTable)
        room = max(76, self.app.size.width - 4)
        more = (room - 76) // 2
        self._state_room += more
        for name, width in (("Place", 24 + more), ("Day", 12), ("Did the ink move?", self._state_room)):
            table.add_column(name, width=width)
        table.focus()
        self.comparing.told = self._told
        self.look()

    def _told(self) -> None:
        self.post_message(Told("compare", 0, self._went_on))

    def on_unmount(self) -> None:
        """The work goes on without a screen to tell."""
        self.comparing.told = lambda: None

    def on_resize(self) -> None:
        self.set_class(self.app.size.height >= ROOMY_ROWS, "-roomy")

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        self.look()

    def look(self) -> None:
        self.ask(partial(_fetch, sheet=self.sheet), self._show, group="pairs")

    def _show(self, shown: Shown) -> None:
        table = self.query_one(DataTable)
        chosen = self._key()
        self.shown = shown
        table.clear()
        rows = [(pair.id, pair.place, pair.at, _state(pair)) for pair in shown.pairs]
        for one in shown.single:
            # All of them are photographs: what tells them apart comes first, where a narrow row is cut.
            words = one.words.removeprefix("Photograph ")
            rows.append((one.id, f"{words[:1].upper()}{words[1:]}", one.at, ""))
        for key, place, at, state in rows:
            cells = line(place), day_of(at), line(cut(state, self._state_room))
            table.add_row(*cells, height=self.bench.row_lines, key=key)
        keys = [key for key, *_ in rows]
        wanted = [
            pair.id for pair in shown.pairs if self.area and pair.area.casefold() == self.area.casefold()
        ]
        go_to = chosen if chosen in keys else (wanted or keys or [""])[-1 if wanted else 0]
        if go_to:
            table.move_cursor(row=keys.index(go_to))
        self.draw_pair()

    def _key(self) -> str:
        """Id of the row in which the cursor is; empty if there is none."""
        table = self.query_one(DataTable)
        if not table.row_count:
            return ""
        return str(table.coordinate_to_cell_key(table.cursor_coordinate).row_key.value or "")

    @property
    def pair(self) -> Pair | None:
        """The pair of the row; None on a photograph that has none."""
        key = self._key()
        return next((pair for pair in self.shown.pairs if pair.id == key), None) if self.shown else None

    # -- what is shown of a row ------------------------------------------------------------------------

    def on_data_table_row_highlighted(self) -> None:
        self.draw_pair()

    def on_data_table_row_selected(self) -> None:
        """Enter belongs to the table."""
        self.action_read()

    def draw_pair(self) -> None:
        """Words at once; the pictures are made small in a thread."""
        if self.shown is None:
            return
        pair = self.pair
        if not self.shown.pairs and not self.shown.single:
            self.tell(NOTHING)
        elif pair is None:
            self.tell("This photograph is in no pair. P pairs what shows one area before and after.")
        else:
            self.tell(pair.said or (f"Before comparing: {pair.wants}." if pair.wants else "C compares it."))
        panel = self.query_one("#before", Static)
        columns, rows = panel.content_size
        if pair is None or columns < 4 or rows < 2:
            self._panels(())
            return
        from kb.desk.sheet.pictures_paired import triptych

        self.ask(lambda _: triptych(pair, columns, rows), self._pictures, group="small")

    def _pictures(self, found: Triptych) -> None:
        self._panels(found.panels)
        reliable = self.app.console.color_system in {"truecolor", "windows"}
        if not self.comparing.current:
            few = "" if reliable else f" {FEW_COLOURS}"
            self._progress_line(f"{found.place}. {ORIENTATION}{few}")

    def _panels(self, panels: Sequence[Panel]) -> None:
        by_title = {panel.title: panel for panel in panels}
        for name in ("before", "after", "difference"):
            panel = by_title.get(name)
            widget = self.query_one(f"#{name}", Static)
            widget.update(half_blocks(panel.rows) if panel else "")

    def _progress_line(self, words: str) -> None:
        self.query_one("#progress", Static).update(line(words))

    # -- keys ------------------------------------------------------------------------------------------

    def action_read(self) -> None:
        if self.pair is not None and self.pair.said:
            self.note(self.pair.place, self.pair.said)

    def action_add(self) -> None:
        # Where one from before waits for its like, the next is the one after.
        waits = any(
            one.when == "before" and one.area.casefold() == self.area.casefold()
            for one in (self.shown.single if self.shown else ())
        )
        before = {"area": self.area, "tags": "after" if waits else "before"}
        form = FewLines(TAKING, TAKE, partial(_take, sheet=self.sheet), before, says=self.sheet)
        self.app.push_screen(form, self._taken)

    def _taken(self, answer: list[Written] | Work | None) -> None:
        """One picture is stored; a folder is long work, after which this screen reads anew."""
        if isinstance(answer, Work):
            self.app.push_screen(LongWork(answer))
        elif answer:
            self.look()

    def _stored(self, written: Written | None) -> None:
        if written is not None:
            self.look()

    def action_pair(self) -> None:
        from kb.desk.sheet.pictures_paired import pair_by_area

        self.ask(partial(pair_by_area, typed=self.sheet), self._paired, group="pair")

    def _paired(self, made: list[Written]) -> None:
        none = "Nothing new to pair: it takes one before and one after of one area in one light."
        self.bench.say(f"{counted(len(made), 'pair')} made." if made else none)
        self.look()

    def action_swab(self) -> None:
        """Where it was swabbed; the comparison needs to know."""
        pair = self.pair
        if pair is None:
            self.bench.say("Choose a pair first.")
            return
        scale = f"{pair.px_per_mm:g}" if pair.px_per_mm else ""
        before = {"swab": pair.swab, "px_per_mm": scale}
        says = f"{self.sheet}: {pair.place}"
        form = FewLines("Swabbed area", MARK, partial(_mark, photograph=pair.before), before, says=says)
        self.app.push_screen(form, self._stored)

    def action_compare(self) -> None:
        """This pair; what it still wants is asked for first."""
        pair = self.pair
        if pair is None:
            self.bench.say("Choose a pair first.")
        elif pair.wants:
            self.bench.say(f"Before comparing: {pair.wants}.", warn=True)
            if not pair.wants.startswith("the photograph"):
                self.action_swab()
        else:
            self.comparing.add([pair.id])

    def action_compare_all(self) -> None:
        due = [
            pair.id for pair in (self.shown.pairs if self.shown else ()) if not (pair.verdict or pair.wants)
        ]
        if not due:
            self.bench.say("No pair waits that could be compared.")
        self.comparing.add(due)

    def action_stop(self) -> None:
        self.comparing.stop()

    def _went_on(self) -> None:
        """Say how far it is; read anew when a pair is done."""
        work = self.comparing
        if work.current != self._worked_on:
            self._worked_on = work.current
            self.look()
        if work.failures:
            self.bench.say(in_words(work.failures.pop()), warn=True)
        if work.current:
            waiting = f"; {work.waiting} more wait" if work.waiting else ""
            self._progress_line(f"Comparing: {work.words}, {percent(work.share)}{waiting}. X stops it.")
        else:
            self._progress_line("")

    def action_view(self) -> None:
        files = self.pair.files if self.pair else {}
        single = [one.file for one in (self.shown.single if self.shown else ()) if one.id == self._key()]
        names = ("aligned-before", "aligned-after", "overlay", "difference")
        paths = [files[name] for name in names if name in files] or [
            *(files[name] for name in ("before", "after") if name in files),
            *filter(None, single),
        ]
        if paths:
            from kb.desk.sheet.pictures_paired import open_outside

            self.ask(lambda _: open_outside(tuple(paths)), lambda _: None, group="open")
        else:
            self.bench.say("There is no picture of this row on this machine.")


def half_blocks(rows: Sequence[Sequence[tuple[int, int, int]]]) -> Content:
    """Pixels as upper half blocks, two to a cell: the upper is the ink of the sign, the lower its ground."""
    lines = []
    for upper, lower in zip(rows[::2], [*rows[1::2], rows[-1]] if len(rows) % 2 else rows[1::2], strict=True):
        cells = [
            ("▀", Style(foreground=Color(*top), background=Color(*bottom)))
            for top, bottom in zip(upper, lower, strict=True)
        ]
        lines.append(Content.assemble(*cells))
    return Content("\n").join(lines)


def _state(pair: Pair) -> str:
    return STATES[pair.verdict] if pair.verdict or not pair.wants else f"wants: {pair.wants}"


def _fetch(studio: Studio, *, sheet: str) -> Shown:
    from kb.desk.sheet.pictures_paired import pairs
    from kb.desk.sheet.pictures_taken import taken

    studio.refresh()
    found = pairs(studio, sheet)
    paired = {one for pair in found for one in (pair.before, pair.after)}
    return Shown(found, [one for one in taken(studio, sheet) if one.id not in paired])


@stores
def _take(studio: Studio, words: Mapping[str, str], *, sheet: str) -> list[Written] | Work:
    """One picture at once; of a folder the work that takes it in."""
    from kb.desk.sheet.pictures_taken import add_named, named_path, tags

    given = {**words, "sheet": sheet, "tags": words["tags"].replace(",", " ").split()}
    if not named_path(given).is_dir():
        return add_named(studio, given)
    # Said before it begins: else every picture of the folder would be refused for it.
    tags(given["tags"])
    return Work(TAKING, "", partial(_take_all, words=given), STOPPED_TAKING, draft_named(TAKING, sheet))


def _take_all(studio: Studio, progress: Progress, *, words: Mapping[str, Any]) -> str:
    from kb.desk.sheet.pictures_taken import add_named

    return f"Taken in and on disk: {counted(len(add_named(studio, words, progress)), 'photograph')}."


@stores
def _mark(studio: Studio, words: Mapping[str, str], *, photograph: str) -> Written:
    from kb.desk.sheet.pictures_taken import swab

    return swab(studio, photograph, words["swab"], words["px_per_mm"])
