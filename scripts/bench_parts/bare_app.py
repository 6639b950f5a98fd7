"""The smallest Textual app: paints one label. What a first paint cannot cost less than."""

from textual.app import App, ComposeResult
from textual.widgets import Label

WORDS = "One label, and nothing else"


class BareApp(App[None]):
    """One label."""

    def compose(self) -> ComposeResult:
        """The label."""
        yield Label(WORDS)


if __name__ == "__main__":
    BareApp().run()
