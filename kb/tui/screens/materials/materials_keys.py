"""Keys, kinds and words of the materials screen."""

from __future__ import annotations

from kb.model.kinds import KINDS as ENTRY_KINDS
from kb.tui.actions import Act, keys_in_words

MATERIALS = (
    Act("find", "slash", "Find", "Type what to look for", shown="/"),
    Act("choose_kind", "ctrl+k", "Kind", "Narrow to one kind of entry", first=True),
    Act("sources", "o", "Sources", "Where the line under the cursor comes from"),
    Act("links", "l", "Links", "What this entry has to do with others, both ways; L again: its lines"),
    Act("safety", "s", "Safety", "Safety note of this liquid"),
    Act("mark", "m", "Mark", "Mark this entry for comparison, or unmark it; four of one kind at most"),
    Act("compare", "v", "Compare", "The marked entries side by side"),
    Act("filter", "f", "Filter", "Narrow the liquids: family, hazard, evaporation, held, allowed"),
    Act("shelf", "h", "Shelf", "What this studio holds and forbids, and its bottles"),
    Act("back", "escape", "Back", "Back: from links to lines, to the list, to the line to type in"),
    Act("unmark", "u", "Unmark", "Take all marks away", foot=False),
    Act("depends", "d", "Depends", "What depends on this entry, and a reading list", foot=False),
    Act("weights", "w", "Weights", "All sources, the one that most rests on first", foot=False),
    Act("own", "n", "New", "Write an entry of your own: liquid, recipe, paper ...", foot=False),
    Act("before", "backspace", "Before", "The entry before, after a link was followed", foot=False),
    Act("next_kind", "right", "Next kind", "In the list: narrow to the next kind", foot=False),
    Act("previous_kind", "left", "Kind before", "In the list: narrow to the kind before", foot=False),
)
USUAL = ("liquid", "adhesive", "tape", "carrier", "polymer", "medium", "paper", "stage", "method", "report")
"""Kinds that are looked up most; they come first."""
KINDS = ("", *USUAL, *(kind.word for kind in reversed(ENTRY_KINDS) if kind.word not in USUAL))
"""The empty one means: every kind."""
ON_A_READING = {"sources", "links", "safety"}
LETTERS = {*ON_A_READING, "find", "mark", "unmark", "compare", "filter", "shelf", "depends", "weights", "own"}
"""Actions whose keys are letters: while one types they are letters."""
HINT = (
    "Type any part of a name, an other name, a CAS number or words of the text; the spelling need only be "
    "near. Ctrl+K narrows to one kind, and with nothing typed lists all of it."
)
NOTHING = "Nothing like that is known. Try fewer letters, or another kind with Ctrl+K."
HELP = (
    f"{HINT} In the line letters are letters: Down, or Esc when it is empty, goes to the list, where they "
    "are keys.\n\n"
    "Enter reads an entry. Its lines give figures with their unit; the word on the right says how far "
    "to trust a line: '~ from memory' was not looked up, '? not read here' is quoted from a text that "
    "was not read for this catalogue, '= common practice' has no text, '# this project's own choice' "
    "is no measurement, '! unverified' is an exposure limit that nobody saw in its list. A line without a "
    "word rests on something that was read, or names no source of its own. Nothing that is missing is "
    "guessed.\n"
    "O opens the sources of the line under the cursor, or of the entry where the line names none.\n"
    "L shows what the entry has to do with others: what it names and what names it, distances, tests "
    "in the bench book, bottles. Enter follows a link, Backspace comes back; Left and Right go from group "
    "to group.\n\n"
    f"{keys_in_words(MATERIALS)}"
)
