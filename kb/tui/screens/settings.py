"""Settings: who writes, whose limits come first, how the screen looks. All of it can be set here."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from kb.desk.studio import Studio
from kb.model.studio import Settings
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.text import line, plain
from kb.tui.themes import THEMES
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.frame import TitleBar

SETTINGS = (
    Act("store", "ctrl+s", "Store", "Write who, bench and limits into studio.yaml"),
    Act("leave", "escape", "Back", "Back to where you came from"),
)
LINES = (
    ("who", "Who writes", "your initials or name, such as AB"),
    ("name", "Studio", "the name of your studio"),
    ("bench", "This bench", "a name for this computer; empty: the one it has"),
    ("authority", "Limits of", "a country's list: EU, FR, UK, US-OSHA ...; empty: all"),
)
DOES = (
    ("Who writes", "stands in every record that is stored from now on; older ones keep theirs."),
    ("Studio", "stands on what is printed, and in a title line that is wide."),
    ("This bench", "several computers may keep one bench book: each writes a file of its own, so named."),
    ("Limits of", "whose limits for vapour (ppm) count under F8: EU, UK, US-OSHA ...; empty: every list."),
    ("Colours", "of this screen. They change at once, and stay."),
    ("Hands", "with gloves on: rows farther apart, and fewer keys at the foot. At once, too."),
)
"""What each line does, in plain words."""
FIRST = "Who writes here? Ctrl+S stores it, Esc leaves it open (F12 asks later)."
COLOURS = tuple(
    One(key, theme.name, "", f"{key.upper()} {theme.name}")
    for key, theme in zip(("p", "l", "d", "h"), THEMES, strict=True)
)
GLOVES = (
    One("u", "", "", "U bare"),
    One("g", "gloves", "larger rows, fewer keys at the foot", "G in gloves"),
)


LONGEST_NAME = 40
"""Characters; what is longer is more likely a question typed into the wrong place."""


def _no_name(who: str) -> str:
    """Why this can hardly be a name, or nothing."""
    if len(who) <= LONGEST_NAME and "," not in who:
        return ""
    return f"Is this who writes: {who}? Ctrl+S once more stores it; else type initials or a name."


class SettingsScreen(DeskScreen[None]):
    """Lines that go into studio.yaml, and choices that hold at once."""

    SAID = "#settings-said"
    TITLE_WORDS = "Settings"
    HELP = (
        "Type into a line, or choose by its letter; below stands what each line does. Colours and hands hold "
        "at once; the others when Ctrl+S stores them.\n\n"
        "These stand in studio.yaml of the studio, which may be edited by hand as well; its other lines and "
        "remarks stay as they are.\n\n"
        f"{keys_in_words(SETTINGS)}"
    )
    BINDINGS = bindings(SETTINGS)
    CSS = """
    SettingsScreen #settings { height: auto; padding: 1 0; }
    SettingsScreen #settings-said { height: auto; padding: 0 1; }
    SettingsScreen #settings-does { height: 1fr; border-top: solid $secondary; }
    SettingsScreen .does { height: auto; }
    SettingsScreen .does > Static { width: 1fr; max-width: 90; }
    SettingsScreen .does > .label { width: 13; color: $secondary; }
    """

    def __init__(self, *, first: bool = False) -> None:
        super().__init__()
        self.first = first
        """Whether nobody has said yet who writes."""
        self.filled: dict[str, str] = {}
        """The lines as they were read."""
        self.asked_back = ""
        """The name that was asked back once; stored if it is meant."""
        self._warned: dict[str, str] = {}
        """The lines as they stood when Esc said that they are not stored."""

    def body(self) -> ComposeResult:
        heading = FIRST if self.first else "Settings of this bench"
        yield Static(heading, classes="heading", markup=False)
        with Vertical(id="settings"):
            for name, label, hint in LINES:
                yield Field(name, label, "", hint)
            yield ChoiceRow("theme", "Colours", COLOURS, self.app.theme, goes_on=False)
            yield ChoiceRow("gloves", "Hands", GLOVES, "gloves" if self.bench.gloves else "", goes_on=False)
        yield Static("", id="settings-said", markup=False)
        with VerticalScroll(id="settings-does", can_focus=False):
            for label, words in DOES:
                with Horizontal(classes="does"):
                    yield Static(line(f" {label}"), classes="label", markup=False)
                    yield Static(plain(words), markup=False)

    def on_mount(self) -> None:
        for field in self.query(FormInput):
            # Who takes over the bench types initials, and they stood behind those of who left it.
            field.select_on_focus = True
        self.set_focus(self.query_one("#field-who", FormInput))
        # In gloves the rows move apart under the cursor.
        self.screen_layout_refresh_signal.subscribe(self, lambda _: self.on_descendant_focus())
        self.ask(lambda studio: studio.settings, self._show, group="settings")

    def _show(self, settings: Settings) -> None:
        for name, _, _ in LINES:
            field = self.query_one(f"#field-{name}", FormInput)
            if not field.value:
                field.value = getattr(settings, name)
                if field.has_focus:
                    field.action_select_all()
        self.filled = {name: getattr(settings, name) for name, _, _ in LINES}

    def on_descendant_focus(self) -> None:
        """What the line does comes into sight: in gloves half of it has no room, and no key moved it."""
        lines = [*self.query("FormInput, ChoiceRow")]
        # The focus may be gone again by now: the terminal lost it, or it came back.
        if self.focused in lines:
            self.query(".does")[lines.index(self.focused)].scroll_visible(animate=False)

    @property
    def passing(self) -> bool:
        """Whether nothing is typed here that would be lost."""
        return not self.first and self.filled == self._typed

    @property
    def unkept(self) -> str:
        """What would go with this screen: a setting has no draft."""
        new = [label for name, label, _ in LINES if self.filled and name in self._new]
        return f"Settings: {', '.join(new)} as typed here is not stored yet." if new else ""

    @property
    def _typed(self) -> dict[str, str]:
        return {name: self.query_one(f"#field-{name}", FormInput).value.strip() for name, _, _ in LINES}

    @property
    def _new(self) -> dict[str, str]:
        """The lines changed on this page: what another page stored meanwhile stands."""
        return {name: text for name, text in self._typed.items() if text != self.filled.get(name, "")}

    def on_choice_row_changed(self, event: ChoiceRow.Changed) -> None:
        """Colours and hands hold at once."""
        if event.row.id == "theme":
            self.app.theme = event.row.value
            return
        from kb.desk.memory import remember

        self.bench.gloves = event.row.value == "gloves"
        self.app.set_class(self.bench.gloves, "-gloves")
        remember(self.bench.studio.root, gloves=self.bench.gloves)
        # The foot is written anew with the keys alone, and the library leaves the screens below as they are.
        self.refresh_bindings()
        for screen in self.bench.every_screen():
            self.app.stylesheet.update(screen)

    def action_store(self) -> None:
        values, who = self._new, self._typed["who"]
        if doubt := _no_name(who) if who != self.asked_back else "":
            self.asked_back = who
            self.tell(doubt)
            return
        self.tell("Storing ...")

        def verb(studio: Studio) -> Settings:
            from kb.desk.memory import set_line

            # Limits first, which alone can be refused: a name was stored then, and called not stored at Esc.
            for name, value in reversed(values.items()):
                set_line(studio, name, value)
            return studio.settings

        self.ask(verb, self._stored, group="store", failed=self.tell)

    def _stored(self, settings: Settings) -> None:
        self.bench.studio_name = settings.name
        self.query_one(TitleBar).refresh_words()
        who = settings.who or "the name of the login"
        self.bench.say(f"Stored. From now on {who} writes into the records.", title="Settings")
        self.dismiss(None)

    def action_leave(self) -> None:
        """Back; what is typed and not stored is told before it goes."""
        typed = self._typed
        if self.unkept and self._warned != typed:
            self._warned = typed
            self.tell(f"{self.unkept} Ctrl+S stores it; Esc once more leaves without it.")
            return
        if self.first:
            from kb.desk.memory import remember

            remember(self.bench.studio.root, asked_who=True)
        self.dismiss(None)
