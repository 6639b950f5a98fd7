"""The key that opens the form for an entry of one's own, on the materials screen and on that of recipes."""

from __future__ import annotations

from kb.tui.screens.at_desk import AtDesk


class Owning(AtDesk):
    """Mixed into a screen: write an entry of one's own."""

    def kind_here(self) -> str:
        """The kind that the screen is narrowed to; empty for every kind."""
        raise NotImplementedError

    def action_own(self) -> None:
        """The form of the kind one looks at, or of one from a list."""
        from kb.desk.materials.own import KINDS
        from kb.tui.screens.materials.filter_form import ValuesScreen

        if self.kind_here() in KINDS:
            self._form(KINDS.index(self.kind_here()))
        else:
            self.bench.push_screen(ValuesScreen("Kind of entry to write", KINDS, 0), self._form)

    def _form(self, at: int | None) -> None:
        from kb.desk.materials.own import KINDS
        from kb.tui.screens.materials.own_form import OwnForm

        if at is not None:
            self.bench.push_screen(OwnForm(KINDS[at]), self.tell_done)
