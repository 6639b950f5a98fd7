"""The spot-test form: filled from the question, with a dwell clock, grades by number keys, one to store."""

from __future__ import annotations

from functools import partial
from typing import ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Digits, Input, Static

from kb.book.kinds.kind import plain_of
from kb.book.kinds.spot_test import HARM_KINDS, RELEASE_WORDS, harm_words
from kb.book.kinds.table import KINDS
from kb.desk.errors import DeskError
from kb.desk.records.record import Written, add_test
from kb.desk.sheet.names import found_sheet
from kb.desk.studio import Studio
from kb.science.liquids.blends import blend_id
from kb.tui.actions import SPOT_TEST, bindings, keys_in_words
from kb.tui.bench import SPOT, app_of, in_words
from kb.tui.clock import DwellClock, digits
from kb.tui.form import line_for, or_wrong
from kb.tui.screens.ask_why import ThrowsAway
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.records.draft import ROUNDS, STORES_WITHOUT, Draft, RoundDraft, seconds
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.text import line
from kb.tui.widgets.choice_row import FACES, ChoiceRow, One, graded
from kb.tui.widgets.field import Field, FormInput, RoundRow, SheetField, Whole, round_head
from kb.tui.widgets.frame import KEPT, TAKES_BACK, TitleBar


class ClockPanel(Horizontal, can_focus=True):
    """Shows a clock that lives elsewhere."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "screen.toggle_clock", "Start, pause", key_display="Space"),
        Binding("up", "app.focus_previous", "Up", show=False),
        Binding("down,enter", "app.focus_next", "Down", show=False),
    ]

    def __init__(self, clock: DwellClock, about: str) -> None:
        super().__init__(id="clock")
        self.clock = clock
        self.about = about
        self.round_number = 1
        self._shown: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        """Figures on the left, words on the right; the words alone on a low screen."""
        yield Digits("00:00", id="figures")
        with Vertical(id="clock-words"):
            # A blank as before the lines below, which bear the mark of the focus there.
            yield Static(line(f" {self.about}"), id="clock-about", markup=False)
            yield Static("", id="clock-state", markup=False)
            yield Static("", id="clock-keys", classes="quiet", markup=False)

    def show(self) -> None:
        clock = self.clock
        state = "running" if clock.running else "paused" if clock.elapsed_s else "ready"
        aim = ""
        if clock.aim_s:
            reached = clock.elapsed_s >= clock.aim_s
            aim = f", aim {digits(clock.aim_s)}{' REACHED' if reached else ''}"
        mark = "»" if self.has_focus else " "
        verb = "pauses" if clock.running else "goes on" if clock.elapsed_s else "starts"
        key = "Space or Ctrl+T" if self.has_focus else "Ctrl+T"
        more = ", Ctrl+R next round" if clock.elapsed_s and not clock.running else ""
        said = f"Dwell of round {self.round_number}: {state}{aim}"
        if self.screen.has_class("-low"):
            said = f"{digits(clock.elapsed_s)}  {said}. {key} {verb}{more}"
        shown = (digits(clock.elapsed_s), f"{mark}{said}", f" {key} {verb}{more}")
        # Asked for four times a second: each update would lay out the whole form anew.
        if shown == self._shown:
            return
        self._shown = shown
        self.query_one(Digits).update(shown[0])
        self.query_one("#clock-state", Static).update(line(shown[1]))
        self.query_one("#clock-keys", Static).update(line(shown[2]))

    # It may be running already when it is shown first; keys work on it only where it has the cursor.
    on_mount = on_focus = on_blur = show

    async def on_click(self) -> None:
        self.focus()
        await self.run_action("screen.toggle_clock")


CARRIER = (
    One("-", "", "", "- not said"),
    One("y", "yes", "", "Y still on"),
    One("r", "residue", "", "R residue only"),
)
CONTROL = (One("t", "test", "", "T test"), One("c", "control", "release is not graded", "C control"))
RELEASE = graded("not graded", RELEASE_WORDS)
HARM = {kind: graded("not looked at", harm_words(kind)) for kind in HARM_KINDS}
TROUBLE = (
    "What was kept\nNothing was written. All that you typed is still on the form.\n\n"
    "What to do\nMend what is named above and press Ctrl+S again. If the disk is the trouble, leave "
    "the form open and make room first."
)
PHOTOS = "paths, ; between; before: or during: in front"


class Stored(NamedTuple):
    """What came of the form: the id, the words for it, the liquid that was tested, and the sheet."""

    id: str
    said: str
    liquid: str
    name: str
    sheet: str = ""


class SpotTestScreen(ThrowsAway, DeskScreen[Stored]):
    """Writes into an :class:`Draft` that the app keeps, so leaving the screen loses nothing."""

    TITLE_WORDS = "Spot test"
    AUTO_FOCUS = ""
    HELP = (
        "Write down one spot test. What is typed is kept while you look at other screens (F2 to F10).\n\n"
        "Clock: Ctrl+T starts and pauses it anywhere, Space does on the clock itself. Pausing writes the "
        "dwell into the round; Ctrl+R is for the next round: the clock starts at zero. It counts on "
        "while other screens are shown. The bell rings when the aim is reached.\n"
        "Rounds: practice is at least three on one spot.\n"
        "Grades: number keys 0 to 4, then the next line comes; - takes a grade back. A there says that all "
        "kinds of harm were looked at: those without a grade then stand at 0. A kind of harm "
        'that stays at "-" was not looked at, which never counts as no harm.\n'
        f"Liquid: a name, or a blend by volume such as acetone 1, water 3.\nPhotos: {PHOTOS}.\n\n"
        f"{keys_in_words(SPOT_TEST)}"
    )
    BINDINGS = bindings(SPOT_TEST)

    def __init__(self, draft: Draft) -> None:
        super().__init__()
        self.draft = draft
        self._missing_asked: set[str] = set()
        self._to_store = False
        """Ctrl+S is on its way to here, behind letters that a line has not taken yet."""

    # -- layout ----------------------------------------------------------------------------------

    def body(self) -> ComposeResult:
        yield ClockPanel(app_of(self).clock, self.draft.about)
        with VerticalScroll(id="form", can_focus=False), Horizontal(id="parts"):
            with Vertical(classes="column"):
                yield from self._spot()
                yield from self._rounds()
            with Vertical(classes="column"):
                yield from grades(self.draft)
                yield from looking(self.draft)
        yield Static("", id="told", classes="heading", markup=False)

    def _spot(self) -> ComposeResult:
        draft = self.draft
        yield Static("Spot", classes="heading", markup=False)
        yield SheetField("sheet", "Sheet", draft.sheet, "which object; ^E lists those there are")
        yield Field("site", "Site", draft.site, "where, in words")
        yield ChoiceRow("face", "Face", FACES, draft.face)
        with Horizontal(classes="pair"):
            yield Field("x_mm", "x, mm", draft.x_mm, "from the left")
            yield Field("y_mm", "y, mm", draft.y_mm, "from the top")
        yield ChoiceRow("carrier_present", "Carrier", CARRIER, draft.carrier_present)
        liquid = Field("liquid_text", "Liquid", draft.liquid_text, "a name, or acetone 1, water 3")
        medium = Field("medium", "Medium", draft.medium, "what the drop lay on; empty: not known")
        yield from (liquid, Whole(liquid), medium, Whole(medium))
        yield Field("method", "Method", draft.method, "swab, gel, ...")
        yield Field("batch", "Batch", draft.batch, "made up here, if it was")

    def _rounds(self) -> ComposeResult:
        yield Static("Rounds", id="rounds-heading", classes="heading", markup=False)
        yield from round_head()
        with Vertical(id="rounds"):
            for place, one in enumerate(self.draft.rounds):
                yield RoundRow(place, one)
        yield Field("aim", "Aim", self.draft.aim, "the bell rings at this dwell: 30 s, 1:30")

    def on_mount(self) -> None:
        """On the sheet, or what comes after it; the clock on this screen follows the one in the app."""
        self.set_focus(self.query_one("#field-site" if self.draft.sheet else "#field-sheet"))
        if not app_of(self).clock.elapsed_s:
            # A draft that comes back may have its first dwells: the clock writes none of them over.
            self.draft.clock_reset()
        self._clock_round()
        self._tell_rounds()
        self._told("")
        self.set_interval(0.25, self._tick)

    # -- what is typed ---------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        name, value = event.input.name or "", event.value
        self.draft.put(name, value)
        if name.startswith("round-"):
            self._tell_rounds()
            self._told(next(iter(self.draft.dwell_faults), ""))
        elif name == "aim":
            self._aim(value)
        self._keep()

    def _keep(self) -> None:
        if self.draft.dirty:
            app_of(self).keep_draft(SPOT, self.draft.says, self.draft)

    def on_choice_row_changed(self, event: ChoiceRow.Changed) -> None:
        self.draft.put(event.row.id or "", event.row.value)
        self._keep()

    def _aim(self, text: str) -> None:
        try:
            app_of(self).clock.aim(seconds(text))
        except ValueError:
            app_of(self).clock.aim(None)
        self._tick()

    # -- the clock -------------------------------------------------------------------------------

    def _tick(self) -> None:
        self.query_one(ClockPanel).show()
        self.query_one(TitleBar).refresh_words()

    # Back from another screen: the clock went on.
    on_screen_resume = _tick

    def action_toggle_clock(self) -> None:
        """Start, or pause and write the dwell into the round."""
        clock = app_of(self).clock
        clock.toggle()
        if not clock.running:
            self._write_dwell()
        self._tick()

    def _write_dwell(self) -> None:
        place = self.draft.clock_stopped(app_of(self).clock.elapsed_s)
        self._show_rounds()
        found = self.query(f"#field-round-{place}-dwell")
        if found:
            found.first(FormInput).value = self.draft.rounds[place].dwell

    def action_next_round(self) -> None:
        """The clock back to nothing; its next run is the next round's. A running one is written first."""
        clock = app_of(self).clock
        if clock.elapsed_s:
            clock.pause()
            self._write_dwell()
        clock.reset()
        self.draft.clock_reset()
        self._clock_round()
        self._tick()

    def _clock_round(self) -> None:
        self.query_one(ClockPanel).round_number = self.draft.timed_round + 1

    # -- rounds and parts ------------------------------------------------------------------------

    def action_add_round(self) -> None:
        self.draft.rounds.append(RoundDraft())
        self._show_rounds()

    def _show_rounds(self) -> None:
        """Rows for rounds that have none yet."""
        table = self.query_one("#rounds", Vertical)
        there = len(self.query(RoundRow))
        for place in range(there, len(self.draft.rounds)):
            table.mount(RoundRow(place, self.draft.rounds[place]))

    def _tell_rounds(self) -> None:
        done = self.draft.rounds_done
        missing = f" - practice is at least {ROUNDS} on one spot" if done < ROUNDS else ""
        self.query_one("#rounds-heading", Static).update(line(f"Rounds: {done} timed{missing}"))

    def action_next_part(self) -> None:
        """To the next part. Never to the rounds: a grade typed blind would be a dwell there."""
        stops = ["field-sheet", "release", "field-magnification"]
        order = [widget.id for widget in self.focus_chain]
        at = order.index(self.focused.id) if self.focused is not None and self.focused.id in order else -1
        later = [stop for stop in stops if stop in order and order.index(stop) > at]
        self.set_focus(found := self.query_one(f"#{later[0] if later else stops[0]}"))
        if found.id == "release":
            # All that is graded is in view at once, on a small screen too.
            self.query_one("#grades").scroll_visible(top=True, animate=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """All harm is graded at a grade only: on the row of the face it would be a letter pressed too far."""
        at = self.focused.id or "" if self.focused is not None else ""
        return action != "no_harm" or at == "release" or at.startswith("harm-")

    def action_no_harm(self) -> None:
        """What has no grade was looked at, and no harm seen: by a key of its own, then on the form."""
        take_grades(self, self.draft)
        seen = self.draft.harm_seen
        for kind in HARM_KINDS:
            if not self.draft.harm.get(kind):
                self.query_one(f"#harm-{kind}", ChoiceRow).choose("0")
        self.query_one(f"#harm-{HARM_KINDS[-1]}").focus()
        self.query_one("#grades").scroll_visible(top=True, animate=False)
        which = f"{', '.join(seen)} stays; the others are" if seen else "All six kinds of harm are graded"
        self._told(f"{which} 0: looked at, none seen. Ctrl+S stores.")

    # -- storing ---------------------------------------------------------------------------------

    def hears(self, key: events.Key) -> bool:
        """What is typed behind Ctrl+S, before there is an answer, is for no line, and answers nothing."""
        self._to_store = self._to_store or key.key == "ctrl+s"
        return not (key.is_printable and (self._to_store or self._storing))

    def action_store(self) -> None:
        """Store; what a reader would miss is asked about each time: no second press passes over it."""
        self._to_store = False
        if self._storing:
            return
        take_grades(self, self.draft)
        if self.draft.to_ask_about:
            # Until that is known nothing leaves the form, and a second press is no second question.
            self._storing = True
            self.ask(self.draft.against, self._ask_first, group="batch", failed=self._not_stored)
        else:
            self._ask_first(())

    def _ask_first(self, against: tuple[str, ...]) -> None:
        """``against``: what speaks against the batch, and what no look at the ink is."""
        self._storing = False
        if self.app.screen is not self:
            # A question of this form over another screen would be answered by keys meant for that.
            self._not_stored("another screen came between. Ctrl+S asks again.")
            return
        asked = (*against, *self.draft.gaps())
        missing = self.draft.missing()
        if not asked:
            # Each is asked once and by no window: a practice piece has no name, and one more key stores it.
            if new := [words for words in missing if words not in self._missing_asked]:
                self._missing_asked.update(new)
                self._told(" ".join(new) + STORES_WITHOUT)
                self.query_one(f"#{missing[new[0]]}").focus()
            else:
                self._store()
            return
        answers = (("b", "back", "Back to the form"), ("s", "store", "Store it as it is"))
        self.sure("Store the test?", "\n".join((*asked, *missing)), answers, self._store)

    def _store(self) -> None:
        self._storing = True
        self._told("Storing...")
        with_sheet_known(self, self.draft.sheet, self._store_on, self._not_stored)

    def _store_on(self, sheet: str, new: bool) -> None:
        self.draft.sheet, self.draft.new_sheet = sheet, new
        verb = partial(or_wrong, verb=partial(store, draft=self.draft))
        self.ask(verb, self._stored, group="store", failed=self._say_trouble)

    def _stored(self, stored: Stored | DeskError) -> None:
        if isinstance(stored, DeskError):
            self._say_trouble(in_words(stored), stored.line)
            return
        self.bench.free_the_form()
        self.bench.clock.aim(None)
        self.bench.stored_draft = stored.id, self.draft
        self.dismiss(stored)

    def _not_stored(self, words: str) -> None:
        self._storing = False
        self._told(f"Not stored: {words}")

    def _say_trouble(self, words: str, wrong: str = "") -> None:
        self._storing = False
        self._told("Not stored; the form is as you left it.")
        text = f"What happened\n{words}\n\n{TROUBLE}"

        def read(_: None) -> None:
            # Only then: under the note nothing would scroll.
            if wrong:
                self.query_one(f"#field-{wrong}").focus()

        self.app.push_screen(NoteScreen("The test is not stored", text), read)

    def _told(self, text: str) -> None:
        told = self.query_one("#told", Static)
        told.update(line(text))
        told.display = bool(text)

    # -- leaving ---------------------------------------------------------------------------------

    def action_leave(self) -> None:
        if self._storing:
            return
        if not self.draft.dirty:
            self.throw()
            return
        app_of(self).say(KEPT.format(f"the spot test of {self.draft.liquid_text}"))
        self.dismiss(None)

    @property
    def not_stored(self) -> str:
        return "This spot test is not stored yet." if self.draft.dirty else ""

    def throw(self) -> None:
        app_of(self).free_the_form()
        self.dismiss(None)


def grades(draft: Draft) -> ComposeResult:
    yield Static("Grades", id="grades", classes="heading", markup=False)
    yield ChoiceRow("control", "Kind", CONTROL, draft.control)
    yield ChoiceRow("release", "Release", RELEASE, draft.release)
    yield Static(" Harm, each kind by itself", classes="quiet", markup=False)
    for kind in HARM_KINDS:
        grade, on = draft.harm.get(kind, ""), kind != HARM_KINDS[-1]
        yield ChoiceRow(f"harm-{kind}", kind.capitalize(), HARM[kind], grade, goes_on=on)


def take_grades(form: SpotTestScreen, draft: Draft) -> None:
    """A grade is in its row before the form hears of it: in a burst A wrote 0 over the harm just seen."""
    for row in form.query(ChoiceRow):
        if row.value:
            draft.put(row.id or "", row.value)


def looking(draft: Draft) -> ComposeResult:
    yield Static("How it was looked at", classes="heading", markup=False)
    *plain, remarks = plain_of(KINDS["test"]).items()
    for key, (declared, *_) in plain:
        yield line_for(declared, draft.plain.get(key, ""))
    yield Field("photos", "Photos", draft.photos, PHOTOS)
    yield line_for(remarks[1][0], draft.plain.get("remarks", ""))


def store(studio: Studio, draft: Draft) -> Stored:
    """Write the draft into the book. What comes after the write can no longer undo it."""
    test = draft.test(studio)
    if draft.new_sheet:
        found_sheet(studio, test.sheet)
    written: Written = add_test(studio, test)
    few = ROUNDS - len(test.rounds)
    on = f" on {test.sheet}" if test.sheet else ", no sheet named (A in the book, F3, adds it)"
    said = f"Stored and on disk: the test of {draft.liquid_text.strip()}{on}. {TAKES_BACK}"
    if few > 0:
        said += f" {len(test.rounds)} of at least {ROUNDS} rounds."
    try:
        said += draft.understood(studio, test)
        studio.refresh()
    except Exception as error:
        said += f" The list does not show it yet ({type(error).__name__}); F9 takes it in."
    return Stored(written.id, said, blend_id(test.parts), draft.liquid_text.strip(), test.sheet)
