"""The home screen: a sentence with blanks, the ranked list under it, and the reasons beside it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual import events
from textual.app import ComposeResult
from textual.containers import Container, Vertical, VerticalScroll
from textual.timer import Timer
from textual.widgets import OptionList, Static
from textual.worker import Worker, WorkerState, get_current_worker

from kb.tui.actions import HOME, bindings, keys_in_words
from kb.tui.bench import app_of
from kb.tui.screens.choose.asked import BLANKS, Asked, names_tape
from kb.tui.screens.choose.row_actions import OPENING, STORED, RowActions, over_list
from kb.tui.text import line, plain
from kb.tui.widgets.blank import Blank
from kb.tui.widgets.frame import KeyBar, Said, TitleBar

if TYPE_CHECKING:
    from kb.tui.bench import StudioOpened
    from kb.tui.screens.choose.find import Offer, Whole
    from kb.tui.screens.choose.ranking import Ranked
    from kb.tui.widgets.rank_list import RankList

HINT = (
    "Type part of a name into a blank above, or the whole question into the first:\n"
    "brittle yellow clear tape over iron gall ink on rag paper, both sides.\n"
    "Ways of acting worth a test are then listed, best first, with the reasons.\n"
    "If you do not know the tape, F5 tells from what you see what it may be.\n"
    "T on a row starts a spot test. F1 explains, Ctrl+P lists all there is to do."
)
EMPTIED = "The question is emptied; Ctrl+Z brings it back."
TITLES = {
    "tape": "Which tape or adhesive?",
    "also": "Which other medium is within reach of the drop?",
    "back": "Which medium is within reach on the back?",
}
THINKING_AFTER_S = 0.1
"""A ranking that takes longer says so."""


class HomeScreen(RowActions):
    """Ask, rank, explain."""

    TITLE_WORDS = "Question"
    HELP = (
        "Say what lies on the bench: Lift [tape or adhesive] [stage] from [medium] on [paper]. Type into a "
        "blank, or press Enter in it; Del empties it. All of it may be typed in one line into the first "
        "blank: what was understood is said, and what was not. An empty blank means not known: the answer "
        "is averaged over what it could be. Name every other medium that a drop could reach, on this face "
        "and the back: the worst of them counts. Naming a sheet takes in the spots already made on it. If "
        "you do not know the tape, F5 tells from what you see what it may be.\n\n"
        "Each row is one way of acting: the liquid that leads it, and +n for those that act alike (Space "
        "opens them). It tells the chance of release and of harm as a figure, as a line from 0 to 1 (● the "
        "figure, ─ the range it likely lies in) and in words; then whether a spot may be made: free, look "
        "(clean looks at a margin come first) or held (no spot now), with ! where a warning applies; then "
        "the strongest evidence and how many tests it is worth: own, own? (on tapes not known for sure, in "
        "proportion to what each may be), like (other tapes, media and liquids like these) or print. A row "
        "with - for a number is shown and not proposed. The other pane says what comes first and what next; "
        "R gives chemistry and counts. "
        "E shows the series of spots and takes a filled-in card. Nothing listed is a treatment: it is a "
        "proposal for a test.\n\n"
        f"On the list\n{keys_in_words(HOME)}\nEnter    Why this row stands where it does"
    )
    BINDINGS = bindings(HOME)

    def __init__(self) -> None:
        super().__init__()
        self._thinking: Timer | None = None
        self._asked_in_words = False
        """What was understood of the question stands before the verdict and not in its place."""
        self._wants_list = False
        """Go to the list as soon as there is one."""
        self._closest: Whole | None = None
        """The question as it would be with the closest names for what was not understood."""

    # -- layout ----------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        yield TitleBar()
        with Vertical(id="ask"):
            with Container(id="sentence"):
                for kind in BLANKS[:4]:
                    yield Blank(kind, self.blank_wanted)
            yield Container(id="second")
        yield Said(OPENING, id="said", classes="heading", markup=False)
        yield Container(Static(plain(HINT), id="hint", markup=False), id="answer")
        yield KeyBar()

    def on_mount(self) -> None:
        """The second row comes after the first paint; its place is kept."""
        # Else Textual, which gives them later, looks for the rules of all that is here once more.
        self.add_class(*app_of(self).size_classes, update=False)
        # Asked of the screen it would come before: nothing is painted until all of the app is mounted.
        self.app.call_after_refresh(self._second_row)

    async def _second_row(self) -> None:
        blanks = [Blank(kind, self.blank_wanted) for kind in BLANKS[4:]]
        await self.query_one("#second", Container).mount(*blanks)

    def on_studio_opened(self, event: StudioOpened) -> None:
        if event.trouble:
            self._say(f"The studio could not be opened. {event.trouble} Nothing was changed; F9 tries again.")
            return
        self._say("" if self.asked.empty else OPENING)
        self.rank()

    def on_screen_resume(self) -> None:
        """Back from another screen: the book may have grown."""
        app = app_of(self)
        if app.in_hand == "nothing":
            app.in_hand = "question"
        if app.opened:
            self.rank()

    # -- the question ----------------------------------------------------------------------------

    def blank_wanted(self, blank: Blank, event: events.Key | None) -> None:
        """Open the picker of a blank. Keys that come while it opens go on to it, in their order."""
        self._pick(blank, event)

    def ask_by(self, event: events.Key, before: Callable[[], object]) -> None:
        """Type a key into the first blank from a screen over this one, which ``before`` takes away."""
        self._pick(self.query_one("#blank-tape", Blank), event, before)

    def _pick(
        self, blank: Blank, event: events.Key | None, before: Callable[[], object] | None = None
    ) -> None:
        from kb.tui.screens.choose.picker import PickerScreen

        there = self.app.screen
        if isinstance(there, PickerScreen):
            if event is not None:
                there.feed(event)
            return
        kind = blank.kind
        title = TITLES.get(kind.name, f"Which {kind.name}?")
        typed = event.character or "" if event is not None and event.is_printable else ""
        picker = PickerScreen(kind.name, title, typed, self.asked.id_of(kind.name), self.asked.copy())

        def picked(offer: Offer | None) -> None:
            if before is not None:
                before()
            if offer is not None:
                self._take_offer(blank, offer)
                self.call_after_refresh(self._replay, picker.ahead)
            elif typed:
                # A letter meant for the answer had opened it.
                self.action_to_list()

        self.app.push_screen(picker, picked)

    def _take_offer(self, blank: Blank, offer: Offer) -> None:
        if offer.whole is not None:
            self._take_whole(offer.whole)
            return
        self.asked.put(blank.kind.name, offer.what, offer.brings)
        self._question_changed()
        self._go_on_from(blank)

    def _take_whole(self, whole: Whole) -> None:
        """All of it was said: what comes next is the answer, whatever blank stayed empty."""
        stays = "tape" in self.asked.filled and not names_tape(whole.question)
        self.asked.put_whole(whole.question, whole.filled)
        self._question_changed()
        self._asked_in_words = True
        self.note = f"{whole.brief} The tape stays; C clears all." if stays else whole.brief
        self._closest = whole.closest
        self._wants_list = self.ranks is None
        self.action_to_list()

    def action_closest(self) -> None:
        """The line as it was typed, with the closest names."""
        if self._closest is not None:
            self._take_whole(self._closest)

    def _replay(self, ahead: list[events.Key]) -> None:
        """Keys typed ahead of the picker are pressed now that it is closed."""
        for event in ahead:
            self.app.post_message(events.Key(event.key, event.character))

    def on_blank_emptied(self, event: Blank.Emptied) -> None:
        self.asked.put(event.blank.kind.name, None)
        self._question_changed()

    def on_blank_left(self) -> None:
        self.action_to_list()

    def _go_on_from(self, blank: Blank) -> None:
        """To the next empty blank of the sentence, else to the list when it comes."""
        names = [kind.name for kind in BLANKS[:4]]
        for name in names[names.index(blank.kind.name) + 1 :] if blank.kind.name in names else []:
            if name not in self.asked.filled:
                self.query_one(f"#blank-{name}", Blank).focus()
                return
        self._wants_list = self.ranks is None
        self.action_to_list()

    def _question_changed(self) -> None:
        app_of(self).in_hand = "question"
        self.show_blanks()
        self.note, self._asked_in_words, self._closest = "", False, None
        self._was = None
        if self.ranks is not None:
            self.ranks.start_anew()
        self.rank()

    def show_blanks(self) -> None:
        for blank in self.query(Blank):
            blank.show(self.asked.shown(blank.kind.name))

    def take(self, put: Callable[[Asked], None]) -> None:
        """What another screen found goes into the question; the list is wanted next."""
        before = self.asked.copy()
        put(self.asked)
        self._ranked_before = None
        self._wants_list = self.ranks is None
        self._question_changed()
        stayed = [
            self.asked.shown(name)
            for name in ("medium", "paper", "sheet", "also", "back")
            if self.asked.shown(name) and self.asked.shown(name) == before.shown(name)
        ]
        # Back with more signs of the same tape it is the same question.
        if stayed and not (before.signs and set(before.signs) <= set(self.asked.signs)):
            # Another object may lie on the table now, and its ink would be weighed as that of the last.
            self.note = f"Still from the question before: {', '.join(stayed)}. C clears all."
            self._asked_in_words = True
        self.action_to_list()

    def action_clear(self) -> None:
        if not self.asked.empty:
            self.emptied = self.asked.copy()
        self.asked.clear()
        self._question_changed()
        self.note = EMPTIED if self.emptied else ""
        self.action_first_blank()

    def action_bring_back(self) -> None:
        """One letter took a whole question away, and not what was chosen in it."""
        if self.emptied is not None:
            self.asked = self.emptied.copy()
            self._wants_list = self.ranks is None
            self._question_changed()
            self.action_to_list()

    def action_first_blank(self) -> None:
        self.query_one("#blank-tape", Blank).focus()

    def action_to_list(self) -> None:
        if self.ranks is not None:
            self.ranks.focus()

    # -- the answer ------------------------------------------------------------------------------

    def rank(self) -> None:
        if not app_of(self).opened:
            return
        if self.asked.empty:
            self.workers.cancel_group(self, "rank")
            self._stop_thinking()
            self.ranked = None
            self.call_later(self._show_answer)
            return
        if self._thinking is None:
            self._thinking = self.set_timer(THINKING_AFTER_S, self._say_thinking)
        work = partial(self._rank, self.asked.copy(), self.ranked)
        self.run_worker(work, thread=True, exclusive=True, group="rank", exit_on_error=False)

    def _say_thinking(self) -> None:
        """Unless the answer came in the moment in which the timer went off."""
        if self._thinking is not None:
            self._say("thinking...")

    def _stop_thinking(self) -> None:
        if self._thinking is not None:
            self._thinking.stop()
            self._thinking = None

    def _rank(self, asked: Asked, old: Ranked | None) -> Ranked | None:
        """In a thread. An answer that says what the old one said leaves the screen as it is."""
        from kb.tui.screens.choose import ranking

        app, worker = app_of(self), get_current_worker()
        with app.desk_lock:
            if worker.is_cancelled:
                return None
            app.studio.refresh()
            found = ranking.rank(app.studio, asked.question(app.studio), app.dials)
        return old if old is not None and old.answer == found.answer else found

    async def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.worker.group != "rank" or event.state in {WorkerState.PENDING, WorkerState.RUNNING}:
            return
        if event.state is WorkerState.CANCELLED:
            return
        self._stop_thinking()
        if event.state is WorkerState.ERROR and event.worker.error:
            from kb.tui.bench import in_words

            kept = "The question is kept; F9 tries again."
            self._say(f"No ranking: {in_words(event.worker.error)} {kept}")
            return
        if event.worker.result is not None:
            changed = self.ranked is not event.worker.result
            self.ranked = event.worker.result
            if changed and not self._news and STORED in self.note:
                # It was corrected since, or another record came: what is said of it is no longer so.
                self.note = ""
            self._news = False
            await self._show_answer(changed=changed)

    async def _show_answer(self, *, changed: bool = True) -> None:
        """Put the list in place, or the hint if nothing is asked."""
        if self.ranked is None:
            await self._show_hint()
            return
        ranks = self.ranks or await self._make_list()
        self._tell_move()
        self.tell()
        if changed:
            ranks.show(self.ranked)
            self._show_reasons()
            self.refresh_bindings()

    async def _show_hint(self) -> None:
        ranks = self.ranks
        if ranks is not None:
            had_focus = self.focused is ranks
            answer = self.query_one("#answer", Container)
            await answer.remove_children()
            await answer.mount(Static(plain(HINT), id="hint", markup=False))
            if had_focus:
                self.action_first_blank()
        self._say(self.note)
        self.refresh_bindings()

    async def _make_list(self) -> RankList:
        from kb.tui.widgets.rank_list import RankHead, RankList

        answer = self.query_one("#answer", Container)
        await answer.remove_children()
        ranks = RankList()
        await answer.mount(
            Vertical(RankHead(), ranks, id="ranks"),
            VerticalScroll(Static("", id="reasons", markup=False), id="why"),
        )
        if self._wants_list or self.focused is None:
            ranks.focus()
        self._wants_list = False
        return ranks

    def tell(self) -> None:
        verdict, turned = "", ""
        if self.ranked is not None:
            verdict, dials = self._verdict(), app_of(self).dials
            if dials is not None:
                from kb.tui.screens.choose.dials import turned as risk

                turned = risk(dials, app_of(self).settings_dials)
        if self._asked_in_words:
            self._say(f"{self.note} {turned}{verdict}")
        else:
            stop = self.ranked is not None and self.ranked.answer.stop is not None
            self._say(f"{turned}{over_list(self.note, verdict, stop=stop)}".strip())

    def _verdict(self) -> str:
        assert self.ranked is not None
        answer = self.ranked.answer
        draft, waiting = app_of(self).draft, ""
        if draft and draft.dirty:
            waiting = f"T: go on with the unfinished test of {draft.liquid_text}, or begin one of this row. "
        from kb.desk.choose.words import first_in_short, series_in_short

        if first := first_in_short(answer):
            waiting += f"{first} "
        if answer.stop is not None:
            # In front, for the end is cut on a small screen: a short shelf may leave nothing that acts.
            out = f"Left out: {len(answer.left_out)} (V). " if answer.left_out else ""
            listed = " What is listed is not proposed; V says why." if self.ranked.rows else ""
            return f"{waiting}{out}{answer.stop.text}{listed}"
        # What it rests on stands in the column of evidence, and under R in words.
        return f"{waiting}{series_in_short(answer) or 'Ways of acting, best first.'}"

    def _tell_move(self) -> None:
        """After a test was stored: where its liquid stood, and where it stands now."""
        if self._was is None or self.ranked is None:
            return
        liquid, name, before = self._was
        after = self.ranked.place_of(liquid)
        self._was = None
        moved = f"was {before}, now {after}" if after != before else f"stays {after}"
        # In front: the end of a long line is cut where the screen is small.
        self.note, self._asked_in_words = f"{name} {moved}. {self.note}", False

    def _say(self, text: str) -> None:
        self.query_one("#said", Static).update(line(text))

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_reasons()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_reasons()

    def _show_reasons(self) -> None:
        from kb.tui.drawing import head_of, led
        from kb.tui.screens.choose import ranking

        found = self.query("#reasons")
        ranks = self.ranks
        if not found or ranks is None or self.ranked is None:
            return
        one = ranks.here
        text = ranking.reasons(self.ranked, one) if one else self.ranked.answer.next_step
        why = self.query_one("#why", VerticalScroll)
        found.first(Static).update(led(text, head_of(why, one.name if one else "Reasons", "Reasons")))
        why.scroll_home(animate=False)
