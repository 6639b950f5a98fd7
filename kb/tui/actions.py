"""One table of what can be done and by which key. Screens, footer, palette and help read it."""

from __future__ import annotations

from typing import NamedTuple

from textual.binding import Binding, BindingType

from kb.tui.places import PLACES


class Act(NamedTuple):
    """An action: the method without ``action_``, its key, its footer word, and a sentence."""

    name: str
    key: str
    word: str
    says: str
    foot: bool = True
    shown: str = ""
    """How the key is written, where its plain name is not readable."""
    first: bool = False
    """Taken before the widget in focus sees the key."""


LEADING = (
    *((f"go('{place.mode}')", place.key, place.name, place.says) for place in PLACES),
    ("show_sheet", "ctrl+l", "Plan of a sheet", "What is known and planned of a sheet"),
    ("drafts", "ctrl+b", "Drafts", "Go on with a form that was begun and not stored"),
    ("settings", "f12", "Settings", "Who writes, whose limits, colours, gloves"),
    ("tour", "ctrl+g", "Tour", "One minute through the places"),
)
"""What shows another screen: its key comes before what is typed behind it, which is meant for that screen."""
APP = (
    Act("help_here", "f1", "Help", "Explain this screen and its keys", foot=False, first=True),
    *(Act(*one, foot=False, first=True) for one in LEADING),
    Act("take_back", "ctrl+z", "Take back", "Take back what was stored in the last minute", foot=False),
    Act("copy_value", "y", "Copy", "Copy the value under the cursor", foot=False),
    Act("quit", "ctrl+q", "Quit", "Leave Benchleaf", foot=False, first=True),
)
FRESH = Act("fresh", "f9", "Fresh", "Take in what other programs wrote", foot=False)
FIND = Act("find", "slash", "Find", "Type what to look for", shown="/")
CORRECT = (
    Act("amend", "a", "Amend", "Correct a field of this record, and say why"),
    Act("withdraw", "w", "Withdraw", "Take this record out of all counts, and say why"),
)
"""Keys that several screens have."""
HOME = (
    Act("test", "t", "Test", "Start a spot test with the liquid in this row"),
    Act("safety", "s", "Safety", "Safety note of the liquid in this row"),
    Act("open", "space", "Alike", "Open or close the liquids that act as this row does", shown="Space"),
    Act("series", "e", "Series", "The series of spots: what each outcome means; store a filled-in card"),
    Act("reasons", "r", "Why", "Why this row stands where it does: tests, print, chemistry", foot=False),
    Act("card", "w", "Card", "Write the safety card of this row, one page to print", foot=False),
    Act("left_out", "v", "Vetoed", "What was vetoed or refused, and why", foot=False),
    Act("dials", "d", "Risk", "How much harm you accept; reports in print", foot=False),
    Act("toggle_print", "p", "Reports", "Count reports in print, or leave them out", foot=False),
    Act("map", "m", "Map", "Solubility map: what reaches the tape, what the media, and this row"),
    Act("blends", "b", "Blends", "Blends of what is held that reach the tape and spare the rest"),
    Act("first_blank", "slash", "Ask", "Go to the blanks of the question", shown="/"),
    Act("clear", "c", "Clear", "Empty the question"),
    Act("bring_back", "ctrl+z", "Bring back", "The question as it was before C emptied it", foot=False),
    Act("to_list", "escape", "List", "From a blank to the list", foot=False),
    Act("closest", "y", "Closest", "Take what is closest to a word that was not understood", foot=False),
    FRESH,
)
BLENDS = (
    Act("whole", "r", "Read", "Parts, drying at 50, 80 and 95 % loss, and safety of this blend"),
    Act("test", "t", "Test", "Start a spot test with this blend"),
    Act("map", "m", "Map", "Where this blend lies, and where drying takes it"),
    Act("carrier", "c", "Carrier too", "The carrier must go as well, or be spared again"),
    Act("instead", "i", "Instead", "Only what is milder than the liquid one came from, or all again"),
    Act("left_out", "v", "Left out", "What was not combined and why; liquids that do without mixing"),
    Act("dismiss", "escape", "Back", "Back to the question"),
)
AIR = (
    Act("page(-1)", "pageup", "Figures up", "Move the figures while one types", shown="PgUp", first=True),
    Act("page(1)", "pagedown", "down", "Move them on", shown="PgDn", first=True),
    Act("take_row", "ctrl+r", "From row", "Take the liquid or blend of the row in the question", first=True),
    Act("figures", "ctrl+o", "All figures", "Open all figures with models and sources, or fold", first=True),
    Act("leave", "escape", "Back", "Back to the question; what was typed stays"),
)
MAP = (
    Act("zoom(0.5)", "plus", "In", "Nearer, around the middle of what is shown", shown="+"),
    Act("zoom(2)", "minus", "Out", "Farther away", shown="-"),
    Act("whole", "0", "All", "The whole triangle", shown="0"),
    Act("around", "g", "Regions", "As near as all regions and the drying path allow"),
    Act("move(-1,0)", "left", "Move left", "Move to the left", foot=False, first=True),
    Act("move(1,0)", "right", "Move right", "Move to the right", foot=False, first=True),
    Act("move(0,1)", "up", "Move up", "Move up", foot=False, first=True),
    Act("move(0,-1)", "down", "Move down", "Move down", foot=False, first=True),
    Act("legend(1)", "pagedown", "Legend down", "Move the legend on", shown="PgDn", foot=False, first=True),
    Act("legend(-1)", "pageup", "Legend up", "Move the legend back", shown="PgUp", foot=False, first=True),
    Act("write", "w", "Write SVG", "Write the map as an SVG picture into the studio's folder exports"),
    Act("dismiss", "escape", "Back", "Back to where you came from"),
)
SPOT_TEST = (
    Act("store", "ctrl+s", "Store", "Store the test in the bench book"),
    Act("toggle_clock", "ctrl+t", "Clock", "Start or pause the dwell clock", first=True),
    Act("next_round", "ctrl+r", "Next round", "For the next round: the clock back to zero", first=True),
    Act("next_part", "ctrl+n", "Next part", "Go to the next part of the form", first=True),
    Act("no_harm", "a", "No harm seen", "At a grade: all other kinds of harm looked at, none seen"),
    Act("add_round", "ctrl+o", "Add round", "One more row for a round", foot=False),
    Act("throw_away", "f9", "Throw away", "Throw away what is typed here", foot=False),
    Act("leave", "escape", "Back", "Back to the question; what is typed is kept as a draft"),
)


def bindings(acts: tuple[Act, ...]) -> list[BindingType]:
    """The table in the form that a screen wants. A letter works in either case, also with Caps Lock on."""
    shown: list[BindingType] = [
        Binding(
            act.key,
            act.name,
            act.word,
            show=act.foot,
            key_display=act.shown or key_name(act.key),
            priority=act.first,
            tooltip=act.says,
        )
        for act in acts
    ]
    # Without a description: the palette and the footer list an action once.
    capitals: list[BindingType] = [
        Binding(act.key.upper(), act.name, show=False, priority=act.first)
        for act in acts
        if is_letter(act.key)
    ]
    return shown + capitals


def is_letter(key: str) -> bool:
    """Whether a key is one letter, which a keyboard can send in two cases."""
    return len(key) == 1 and key.isalpha()


def keys_in_words(acts: tuple[Act, ...]) -> str:
    """The table as lines of plain text, for the help of a screen."""
    return "\n".join(f"{(act.shown or key_name(act.key)):<8} {act.says}" for act in acts)


def key_name(key: str) -> str:
    """``ctrl+s`` -> ``^S``, ``f1`` -> ``F1``, ``escape`` -> ``Esc``."""
    names = {"escape": "Esc", "slash": "/", "plus": "+", "minus": "-", "question_mark": "?"}
    names |= {"space": "Space", "delete": "Del", "ctrl": "^"}
    return "+".join(names.get(part, part.capitalize()) for part in key.split("+")).replace("^+", "^")
