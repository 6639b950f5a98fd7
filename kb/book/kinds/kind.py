"""A kind of record: its struct, and what cannot be said field by field."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from kb.book.kinds.field import Field, Names, asked, check_fields, fields, in_line, texts

Rows = tuple[tuple[str, ...], ...]


class Kind(NamedTuple):
    """A kind of record. All but the first five have a usual value that serves a new kind.

    ``key`` stands in the lines of the book; ``least`` is the least body that can be, so that an amendment can
    be checked alone.
    """

    key: str
    noun: str
    """What a reader calls it: toning test."""
    table: str
    """Its table in a package."""
    type: Any
    least: Mapping[str, Any]
    command: str = ""
    """The word of the command that writes it down; else the key. "-": it has a command of its own."""
    called: tuple[str, ...] = ()
    """Other words by which a list is narrowed to it."""
    summary: str = ""
    """What is written down, in the palette and the list of commands."""
    about: str = ""
    """What it is good for and how, in the help of form and command."""
    when: str = ""
    """The field that says when it was done, by which it is sorted; else when it was written down."""
    subject: str = "sheet"
    """The field that lists are narrowed by."""
    rows: Rows = ()
    """Lines of the form that stand side by side or in an order of their own."""
    check: Callable[[Any], object] | None = None
    """Rules that more than one field has a part in. Raises ValueError in a sentence."""
    words: Callable[[Any, Names], Iterable[str]] | None = None
    """Parts of the one line in lists that the fields do not say by themselves."""
    line: Callable[[Any, str], str] | None = None
    """The line from its words, where it does not begin with the noun."""
    computed: Callable[[Any], Iterable[tuple[str, str]]] | None = None
    """Label and text of what follows from the fields and is not stored."""
    apart: frozenset[str] = frozenset()
    """Fields that form and command ask in a way of their own; every other follows from its declaration."""
    tables: Mapping[str, tuple[str, str]] = {}
    """Name and meaning of the table of a field that holds several things."""

    @property
    def name(self) -> str:
        """It at the beginning of a sentence: A toning test."""
        return f"A{self.a_noun[1:]}"

    @property
    def a_noun(self) -> str:
        """It within a sentence: a toning test."""
        # By the letter and not by the sound: the nouns of kinds are chosen by us.
        return f"a{'n' if self.noun[0] in 'aeio' else ''} {self.noun}"

    @property
    def title(self) -> str:
        """It alone at the beginning of a line: Toning test."""
        return self.noun[:1].upper() + self.noun[1:]

    @property
    def names(self) -> tuple[str, ...]:
        """All that it may be called where a list is narrowed to it."""
        return (self.key, self.noun, f"{self.noun}s", self.table.replace("_", " "), *self.called)

    @property
    def verb(self) -> str:
        """The word of the command that writes it down; empty if another command does."""
        return "" if self.command == "-" else self.command or self.key


def checked(kind: Kind, body: Any) -> Any:
    """The same body, if its fields can be. Raises ValueError in a sentence."""
    check_fields(kind.noun, body)
    if kind.check is not None:
        kind.check(body)
    return body


def in_words(kind: Kind, body: Any, names: Names) -> str:
    """A record in a few words, without its kind: ``plain tear 45 mm, Tengujo``."""
    own = kind.words(body, names) if kind.words else _all(body, names)
    return ", ".join(part for part in (*own, *in_line(body)) if part)


def _all(body: Any, names: Names) -> Iterator[str]:
    # What has words of its own would stand twice.
    """Every field that has no words of its own for the line; its sheet stands beside the line."""
    spoken = {field.label for field in fields(type(body)) if field.says.line}
    for label, text in texts(body, names):
        # The sheet stands beside the line, a photograph says nothing in words, and remarks are long.
        if label not in {"sheet", "photograph", "remarks", *spoken}:
            yield f"{label} {text}"


def line_of(kind: Kind, body: Any, names: Names) -> str:
    """A record in the one line of a list: ``Mend: plain tear 45 mm, Tengujo``."""
    said = in_words(kind, body, names)
    if kind.line is not None:
        return kind.line(body, said)
    return f"{kind.title}: {said or 'nothing is said of it'}"


def fields_of(kind: Kind, body: Any, names: Names) -> tuple[tuple[str, str], ...]:
    """Label and text of all that a record says, what is computed from it at the end."""
    found = list(texts(body, names))
    if kind.computed is not None:
        found += kind.computed(body)
    return tuple(found)


def plain_of(kind: Kind) -> dict[str, tuple[Field, ...]]:
    """What is asked of a record as it is declared, by its word, remarks last."""
    found = {key: group for key, group in asked(kind.type).items() if group[0].path[0] not in kind.apart}
    # Last, as on paper: remarks are about all that stands before.
    return found | ({"remarks": found.pop("remarks")} if "remarks" in found else {})


def subject_of(kind: Kind, body: Any) -> str:
    """What lists of the kind are narrowed by: the sheet, or the liquid of a bottle."""
    from kb.model.kinds import plain_id

    said = str(getattr(body, kind.subject, ""))
    # Liquids are compared by id; a sheet is named as its owner writes it.
    return said if kind.subject == "sheet" else plain_id(said)


def rows_of(kind: Kind) -> tuple[tuple[tuple[Field, ...], ...], ...]:
    """The lines of the form; each line is what is typed together, and one or two of them make a row.

    What no row of the kind names comes before the remarks, so that a new field is on the form at once.
    """
    items = asked(kind.type)
    # Photographs and remarks close every form alike, so that hands find them without looking.
    last = tuple(key for key in ("photo", "remarks") if key in items)
    named = {key for row in kind.rows for key in row}
    more = tuple((key,) for key in items if key not in named and key not in last)
    rows = (*(row for row in kind.rows if row[0] not in last), *more, *((key,) for key in last))
    return tuple(tuple(items[key] for key in row) for row in rows)
