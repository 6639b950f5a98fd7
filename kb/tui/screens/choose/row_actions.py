"""What can be done with a row of the ranking: read on, say how much risk one takes, test it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from textual.screen import Screen

from kb.tui.bench import app_of
from kb.tui.screens.choose.asked import Asked
from kb.tui.text import cut

if TYPE_CHECKING:
    from kb.model.question import Dials, Suggestion
    from kb.tui.screens.choose.ranking import Ranked
    from kb.tui.screens.records.draft import Chosen
    from kb.tui.screens.records.spot_test import Stored
    from kb.tui.widgets.rank_list import RankList

OPENING = "Opening the studio..."
STORED = "Stored and on disk"
"""How the note begins that says what came of a form or a card."""
BRIEF = 60
"""Letters of what was stored that leave a stop its place on a low screen."""
NO_ROW = "A test starts from a row of the answer, and nothing is asked yet: name the tape first (/)."
NONE_LEFT = "A test starts from a row of the answer, and no liquid is left in it: V says why."


class RowActions(Screen[None]):
    """The half of the home screen that acts; the other half lays out and asks."""

    rank: Callable[[], None]
    _say: Callable[[str], None]
    show_blanks: Callable[[], None]
    """What stands in the blanks now."""
    tell: Callable[[], None]
    """What happened last, or the verdict."""

    def __init__(self) -> None:
        super().__init__()
        self.asked = Asked()
        self.emptied: Asked | None = None
        """The question as it was before C."""
        self.ranked: Ranked | None = None
        self.note = ""
        """What happened last; stands over the list until the question changes."""
        self._news = False
        """Whether the next answer is one to what the note says, or to other dials, and leaves it standing."""
        self._ranked_before: Ranked | None = None
        """The answer that stood when the form was opened."""
        self._was: tuple[str, str, str] | None = None
        """Liquid, its name and its place before the last test was stored."""
        self._wanted: Chosen | None = None
        """What another screen chose for the test; None means the row one stands on."""

    @property
    def ranks(self) -> RankList | None:
        from kb.tui.widgets.rank_list import RankList

        found = self.query(RankList)
        return found.first() if found else None

    # -- actions on a row ------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Actions on a row are off until there is one."""
        if action == "bring_back":
            return self.asked.empty and self.emptied is not None
        on_row = {"safety", "card", "reasons", "left_out", "open", "series"}
        return self.ranked is not None or action not in on_row

    def _note(self, title: str, text: str) -> None:
        from kb.tui.screens.note import NoteScreen

        self.app.push_screen(NoteScreen(title, text))

    def action_safety(self) -> None:
        from kb.tui.screens.choose import ranking

        one = self.ranks.here if self.ranks else None
        note = self.ranked.safety.get(one.liquid) if self.ranked and one else None
        if note is not None:
            self._note(f"Safety note: {note.name}", ranking.full_safety(note))

    def action_card(self) -> None:
        from kb.desk.materials.safety_card import card_html
        from kb.tui.exports import plain_stem, write_new

        one = self.ranks.here if self.ranks else None
        note = self.ranked.safety.get(one.liquid) if self.ranked and one else None
        if note is None:
            return
        try:
            page = card_html(note, date.today().isoformat())
            path = write_new(app_of(self).studio, plain_stem("safety-", note.name, "card"), ".html", page)
        except OSError as error:
            self._say(f"The card was not written: {error.strerror}. The safety note is under S.")
        else:
            self._say(f"The safety card is written: {path}")

    def action_reasons(self) -> None:
        from kb.tui.screens.choose import ranking

        one = self.ranks.here if self.ranks else None
        if self.ranked is not None and one is not None:
            self._note(f"Why: {one.name}", ranking.why(self.ranked, one))

    def action_open(self) -> None:
        if self.ranks is not None:
            self.ranks.toggle()

    def action_series(self) -> None:
        from kb.tui.screens.choose.series import card_of

        if self.ranked is None:
            return
        if not self.ranked.answer.series:
            self._note("Series", self.ranked.answer.next_step)
            return
        self._on_card(self.ranked, card_of(self.ranked.answer, app_of(self).drafts))

    def _on_card(self, ranked: Ranked, draft: str) -> None:
        from kb.tui.screens.choose.series import SeriesScreen

        about = self.asked.in_words(ranked.adhesive)
        self.app.push_screen(SeriesScreen(ranked.answer, about, draft), self._card_stored)

    def series_again(self, form: str, says: str) -> None:
        """The card that was left, if the question is the same; else what to ask, or away with it."""
        from kb.tui.screens.choose.series import is_of
        from kb.tui.screens.note import AskScreen

        app, ranked = app_of(self), self.ranked
        if ranked is not None and ranked.answer.series and is_of(app.drafts.get(form), ranked.answer):
            self._on_card(ranked, form)
            return
        answers = (("k", "keep", "Keep it"), ("delete", "throw", "Throw it away"))
        asked = AskScreen("Of another question", f"Ask again, then E: {says}.", answers)
        app.push_screen(asked, lambda answer: app.drop_draft(form) if answer == "throw" else None)

    def _card_stored(self, stored: tuple[str, str] | None) -> None:
        """Back from the card, with the sheet and what is said of it; None if nothing was stored."""
        if stored is not None:
            (sheet, self.note), self._news = stored, True
            self._tested_on(sheet)
            self.rank()

    def _tested_on(self, sheet: str) -> None:
        """From now on the question is about the sheet that was tested, and says so."""
        if self.asked.put_tested(sheet):
            self.show_blanks()
            # In front: what was stored on a card may be long, and its end is cut.
            self.note = f"The answer is now for {sheet}. {self.note}"

    def action_left_out(self) -> None:
        from kb.tui.screens.choose import ranking

        if self.ranked is not None:
            self._note("Vetoed and refused", ranking.left_out(self.ranked.answer))

    def action_toggle_print(self) -> None:
        import msgspec

        app = app_of(self)
        if app.opened:
            now = app.dials or app.settings_dials
            self._set_dials(msgspec.structs.replace(now, use_print=not now.use_print))

    def action_dials(self) -> None:
        from kb.tui.screens.choose.dials import DialsScreen

        app = app_of(self)
        if app.opened:
            self.app.push_screen(
                DialsScreen(app.dials or app.settings_dials, app.settings_dials), self._set_dials
            )

    def _set_dials(self, dials: Dials | None) -> None:
        if dials is not None:
            app_of(self).dials, self._news = dials, True
            self.rank()

    def action_fresh(self) -> None:
        """Take in what others wrote, or try again to open the studio."""
        app = app_of(self)
        if not app.opened:
            self._say(OPENING)
            app.open_studio()
            return
        self.rank()

    # -- other views of the question -------------------------------------------------------------

    @property
    def chosen(self) -> Chosen | None:
        """The liquid or blend of the row, as other screens take it."""
        from kb.tui.screens.records.draft import Chosen

        one = self.ranks.here if self.ranks else None
        return Chosen(one.name, dict(one.parts)) if one else None

    def action_map(self) -> None:
        from kb.tui.screens.liquids.solubility_map import MapScreen

        self.app.push_screen(MapScreen(self.asked.copy(), self.chosen))

    def action_blends(self) -> None:
        """Blends for this question; the one chosen there goes into a spot test."""
        from kb.tui.screens.liquids.blends import BlendsScreen

        self.app.push_screen(BlendsScreen(self.asked.copy(), self.chosen), self._blend_chosen)

    def _blend_chosen(self, chosen: Chosen | None) -> None:
        if chosen is not None:
            self._wanted = chosen
            self._test_or_ask()

    # -- the spot test ---------------------------------------------------------------------------

    def action_test(self) -> None:
        """Start a spot test from the row, or go on with the unfinished one."""
        self._wanted = None
        self._test_or_ask()

    def _test_or_ask(self) -> None:
        draft = app_of(self).draft
        if draft is None or not draft.dirty:
            self._new_test()
            return
        from kb.tui.screens.note import AskScreen

        text = f"{draft.says[:1].upper()}{draft.says[1:]} is on the form and not stored."
        one = self._of_row
        new = f"start one of {one.name}" if one else "start a new one"
        answers = (
            ("g", "go", "Go on with it"),
            ("n", "new", f"Put it aside and {new}; Ctrl+B goes on with it"),
        )
        self.app.push_screen(AskScreen("Spot test", text, answers), self._test_answered)

    def _test_answered(self, answer: str | None) -> None:
        if answer == "new":
            app_of(self).put_test_aside()
            self._new_test()
        elif answer == "go":
            self._open_form()

    @property
    def _of_row(self) -> Chosen | Suggestion | None:
        """What a new test would be of."""
        return self._wanted or (self.ranks.here if self.ranks else None)

    def _new_test(self) -> None:
        from kb.science.liquids.blends import blend_id
        from kb.tui.screens.records.draft import Draft

        one = self._of_row
        if self.ranked is None or one is None:
            self._say(NO_ROW if self.ranked is None else NONE_LEFT)
            return
        # Also where another screen handed it over: what is held back here is so there.
        liquid, answer = blend_id(dict(one.parts)), self.ranked.answer
        ranked = (*answer.suggestions, *answer.refused)
        here = next((other for other in ranked if other.liquid == liquid), None)
        about = self.asked.in_words(self.ranked.adhesive)
        if here is not None and not self.ranked.proposed(here):
            # In front, since the end of a long line is cut.
            about = f"NOT PROPOSED, {here.refused}. {about}"
        medium = self.asked.shown("medium")
        app_of(self).draft = Draft.begin(self.ranked.answer.question, one, about, medium)
        self._open_form()

    def _open_form(self) -> None:
        from kb.tui.screens.records.spot_test import SpotTestScreen

        draft = app_of(self).draft
        if draft is not None:
            self._ranked_before = self.ranked
            self.app.push_screen(SpotTestScreen(draft), self._stored)

    def _stored(self, stored: Stored | None) -> None:
        """Back from the form; None if nothing was stored."""
        if stored is not None:
            from kb.desk.records.book_list import WITHIN_S

            self.note, self._news = stored.said, True
            self._tested_on(stored.sheet)
            self.set_timer(WITHIN_S, partial(self._minute_over, stored.said))
            if self._ranked_before is not None:
                before = self._ranked_before.place_of(stored.liquid)
                self._was = (stored.liquid, stored.name, before)
            self.rank()

    def _minute_over(self, said: str) -> None:
        """What can no longer be taken back gives its place to the verdict."""
        if said in self.note:
            self.note = ""
            self.tell()


def over_list(note: str, verdict: str, *, stop: bool) -> str:
    """What was stored stays, and does not hide what comes next; a stop stands in front of most of it."""
    if not stop:
        return f"{note} {verdict}"
    # The end is cut, and after a spot that did harm nobody may miss that this was the last.
    moved, stored, told = note.partition(STORED)
    told, _, after = told.partition(". ")
    if len(told) <= BRIEF:
        brief = f"{stored}{told}. " if stored else ""
        return f"{brief}{verdict} {moved}{after}"
    # Of which liquid: a line too low on the card is another one, and the rest of what is said may be cut.
    liquids = [piece.partition("; ")[0] for piece in note.split(f"{STORED}: ")[1:]]
    return f"{STORED}: {cut(' and '.join(liquids), BRIEF)}. {verdict} {note}"
