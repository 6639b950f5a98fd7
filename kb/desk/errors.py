"""What the desk says when it cannot do what was asked: one sentence, and what to do.

And the one way to a file that a user names: what is there is never written over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple


class DeskError(Exception):
    """Something the user can put right. The text is one sentence that says how."""

    line = ""
    """The key of the line that cannot be read, where it is one line, so that a form can lead there."""


class Choice(NamedTuple):
    """One thing an unclear word may have meant."""

    id: str
    name: str


class Unclear(DeskError):
    """A word that fits several entries (``borne``), or none; ``choices`` are those, or the nearest."""

    def __init__(self, word: str, text: str, choices: tuple[Choice, ...], *, borne: bool = True) -> None:
        self.word = word
        self.text = text
        self.choices = choices
        self.borne = borne
        listed = "; ".join(f"{one.id} ({one.name})" for one in choices)
        if borne:
            said = f'The {word} "{text}" may mean several: {listed}. Say which by its id.'
        else:
            near = f"; near in spelling: {listed}. Ask again by one of these if it is meant" if listed else ""
            said = f'{word} "{text}": nothing by that name{near}.'
        super().__init__(said)


def the_one(found: Sequence[str], noun: str, typed: str, none: str) -> str:
    """The one id that was found. Raises DeskError with the sentence ``none``, and Unclear for several."""
    if len(found) == 1:
        return found[0]
    if not found:
        raise DeskError(none)
    raise Unclear(noun, typed, tuple(Choice(one, noun) for one in found))


def sentence(error: Exception) -> str:
    """What science says of its input, in a few words, as a sentence for a user."""
    # A formula names what it was given as the program does: length_mm.
    text = re.sub(r"^\w+(?= must be )", lambda name: name[0].replace("_", " "), str(error))
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


@contextmanager
def in_a_sentence(then: str = "") -> Iterator[None]:
    """Raise what science or the book refuses (ValueError) as a DeskError, and what this comes to."""
    try:
        yield
    except ValueError as error:
        raise DeskError(f"{sentence(error)} {then}".rstrip()) from error


def refuse_lost_link(path: Path) -> None:
    """Raise DeskError for a link that leads to nothing: what it led to would be written anew beside it."""
    if path.is_symlink() and not path.exists():
        raise DeskError(
            f"{path.name} is a link to {path.readlink()}, where nothing is. Bring that back, or take "
            "the link away. Nothing was written."
        )


def save_as(path: Path, content: str | bytes) -> None:
    """Write a new file. Raises DeskError if there is one of its name, or if it cannot be written."""
    from kb.book.storage import write_new_file

    try:
        write_new_file(path, content)
    except FileExistsError:
        raise DeskError(f"{path} exists already; name a new file.") from None
    except OSError as error:
        raise DeskError(
            f"{path} could not be written ({error.strerror}); name a folder that is there and has room."
        ) from error
