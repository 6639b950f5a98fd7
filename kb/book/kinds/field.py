"""What a declared field of a record says of itself, and what follows from that for every kind alike.

A kind is one msgspec struct whose fields carry ``Annotated[type, Says(...)]``. The bounds stand in `Says` and
not in a msgspec `Meta`, because a refusal is a sentence with the unit in it and not a path into JSON.
"""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from functools import cache
from types import UnionType
from typing import (
    Annotated,
    Any,
    Literal,
    NamedTuple,
    TypeVar,
    Union,
    cast,
    get_args,
    get_origin,
    get_type_hints,
)

import msgspec

_F = TypeVar("_F", bound=Callable[..., Any])


def once(function: _F) -> _F:
    """Worked out once for each struct. A plain cache would lose what types the function takes."""
    return cast("_F", cache(function))


UNIT_WORDS = {
    "mm²": "mm2",
    "g/m²": "g/m2",
    "µS/cm": "microsiemens per centimetre",
    "°C": "degrees Celsius",
    "% RH": "per cent relative humidity",
    "%": "per cent",
}
"""Units that a table writes out, because a reader outside the studio may not know the sign."""
QUANTITIES = {
    "mm": "a length in mm",
    "mm²": "an area in mm²",
    "g": "a mass in g",
    "ml": "a volume in ml",
    "g/m²": "a grammage in g/m²",
    "%": "a share in per cent",
    "min": "a time in minutes",
    "s": "a time in seconds",
    "lux": "an illuminance in lux",
    "% RH": "a relative humidity in per cent",
    "µS/cm": "a conductivity in microsiemens per cm",
    "°C": "a temperature in degrees Celsius",
}
"""What has a unit, for the sentence that refuses a figure."""
Names = Callable[[tuple[str, ...], str], str]
"""From kinds of entries and an id to the name in the catalogue; words that are no id stay as they are."""


class Says(NamedTuple):
    """What a field says of itself, once for form, command, list, pane, table and paper.

    ``label`` stands before the value, without its unit. ``asked`` is the word of the command and the name of
    the form's line: empty is the field's own name without its unit, "-" is never asked; fields that share a
    word are typed together, as width x height. ``reads`` names a reader of `kb.desk.records.read` where the
    unit alone does not tell how the words are read.
    """

    label: str
    meaning: str = ""
    """A sentence for readers who have only the table."""
    hint: str = ""
    """How it is typed."""
    unit: str = ""
    asked: str = ""
    form: str = ""
    """A shorter label for the form; else the label."""
    low: float = -math.inf
    high: float = math.inf
    least: float = -math.inf
    """The least that is taken of what is typed now; a book may hold less, as a side of 0 mm."""
    what: str = ""
    """What a figure is that is refused - a bath, counted from 1 - if not of the kind that its unit has."""
    needed: bool = False
    entries: tuple[str, ...] = ()
    """Kinds of catalogue entries whose id may stand here; other words are kept as typed."""
    loosely: bool = True
    """Whether other names of an entry count too; not where one such name fits many entries."""
    record: str = ""
    """Kind of the record whose id stands here."""
    reads: str = ""
    else_of: str = ""
    """The field whose record says it - the recipe of a batch - if nothing is typed."""
    empty: str = ""
    """What it means that none of the choices was made."""
    grades: tuple[str, ...] = ()
    """What each grade means, from 0."""
    numbered: bool = False
    """Whether what a list holds is counted: round 1, round 2."""
    line: str = ""
    """How it stands in the one line of a list: ``pressed {:g} min``. Empty: the kind's own words say it."""


class Field(NamedTuple):
    """One field of a declared struct, with what its type tells. ``path`` leads to it from the body."""

    name: str
    says: Says
    type: Any
    """Its type without None; of a tuple the tuple."""
    empty_allowed: bool
    """Whether None may stand in it."""
    path: tuple[str, ...]

    @property
    def choices(self) -> tuple[str, ...]:
        """The words of which one may stand here; none: any text."""
        return tuple(one for one in get_args(self.type) if one) if get_origin(self.type) is Literal else ()

    @property
    def is_map(self) -> bool:
        """Whether values by name stand here."""
        return get_origin(self.type) is dict

    @property
    # Of a map the names are free and the values typed.
    def item(self) -> Any:
        """What a list holds, or a map by its names; None if it is neither."""
        if self.is_map:
            return get_args(self.type)[1]
        return get_args(self.type)[0] if get_origin(self.type) is tuple else None

    @property
    def is_part(self) -> bool:
        """Whether a struct with fields of its own stands here."""
        return isinstance(self.type, type) and issubclass(self.type, msgspec.Struct)

    @property
    def is_figure(self) -> bool:
        """Whether a number stands here."""
        return self.type in {int, float}

    @property
    def key(self) -> str:
        """The word of the command and the name of the form's line; empty if it is never asked."""
        if self.says.asked:
            return "" if self.says.asked == "-" else self.says.asked
        # The longest ending first, since _mm2 also ends a name that a shorter one would cut wrongly.
        unit = next((ending for ending in ENDINGS if self.name.endswith(ending)), "")
        return self.name.removesuffix(unit)

    @property
    def label(self) -> str:
        """``length (mm)``: for a value that stands without its unit."""
        # "pH (pH)" says it twice, and a grade has its words instead of a unit.
        bare = not self.says.unit or self.says.grades or self.says.unit == self.says.label
        return self.says.label if bare else f"{self.says.label} ({self.says.unit})"


TEXT_RULES = ("day", "moment", "sha256")
ENDINGS = ("_us_cm", "_g_m2", "_mm2", "_minutes", "_percent", "_mm", "_ml", "_lux", "_c", "_g", "_s")
"""How names of fields end that bear a unit."""


@once
def fields(struct: Any, before: tuple[str, ...] = ()) -> tuple[Field, ...]:
    """The fields of a struct in their order. One that says nothing of itself is labelled by its name."""
    # With extras, or the declarations would be stripped off.
    hints = get_type_hints(struct, include_extras=True)
    return tuple(_field(name, hints[name], before) for name in struct.__struct_fields__)


def _field(name: str, hint: Any, before: tuple[str, ...]) -> Field:
    says = Says(name.replace("_", " "))
    # None may stand outside the annotation or inside it, as the kind's author wrote it.
    union = get_args(hint) if get_origin(hint) in {Union, UnionType} else (hint,)
    optional = type(None) in union
    hint = next(one for one in union if one is not type(None))
    if get_origin(hint) is Annotated:
        says = next((one for one in hint.__metadata__ if isinstance(one, Says)), says)
        hint = hint.__origin__
    # The whole union may be what is annotated.
    inner = get_args(hint) if get_origin(hint) in {Union, UnionType} else (hint,)
    optional = optional or type(None) in inner
    return Field(name, says, next(one for one in inner if one is not type(None)), optional, (*before, name))


@once
def leaves(struct: Any, before: tuple[str, ...] = ()) -> tuple[Field, ...]:
    """The fields with those of a part - a place on the sheet - in its stead, unless it is read as a whole."""
    found: list[Field] = []
    for field in fields(struct, before):
        # A part that is read as a whole - a range, a place - is one line of the form.
        whole = field.says.reads or not field.is_part
        found += (field,) if whole else leaves(field.type, field.path)
    return tuple(found)


def value_of(body: Any, path: tuple[str, ...]) -> Any:
    """The value at a path in a body; None where something on the way is missing."""
    for name in path:
        # A part that may be missing makes all below it missing.
        if body is None:
            return None
        body = getattr(body, name)
    return body


def find(struct: Any, dotted: str) -> Field | None:
    """The field that a name such as ``length_mm`` or ``site.words`` means."""
    outer, dot, inner = dotted.partition(".")
    field = next((one for one in fields(struct) if one.name == outer), None)
    if field is None or not dot:
        return field
    return find(field.type, inner) if field.is_part else None


@once
def asked(struct: Any) -> Mapping[str, tuple[Field, ...]]:
    """What is asked of a record, by its word; several fields where they are typed together."""
    found: dict[str, tuple[Field, ...]] = {}
    for field in leaves(struct):
        if field.key:
            found[field.key] = (*found.get(field.key, ()), field)
    return found


# -- the check ---------------------------------------------------------------------------------------------


def check_fields(noun: str, body: Any) -> None:
    """Refuse a figure out of its bounds, a day that is none, or a gap where something is needed.

    What stands in parts and lists is checked too. Raises ValueError in a sentence.
    """
    check_own(noun, body)
    for field in fields(type(body)):
        value = getattr(body, field.name)
        if isinstance(value, msgspec.Struct):
            check_fields(field.says.label, value)
        elif isinstance(value, tuple):
            for held in value:
                if isinstance(held, msgspec.Struct):
                    check_fields(field.says.label, held)
        # Also without bounds of its own: what is not a number spoils every sum it enters.
        elif isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"{value:g} cannot be the {field.says.label}.")


def check_own(noun: str, body: Any) -> None:
    """The same of the fields that declare a rule themselves, parts and lists left out."""
    for field in _ruled(type(body)):
        value, says = getattr(body, field.name), field.says
        # Blanks are what a stray key leaves.
        said = value.strip() if isinstance(value, str) else value
        # A grade of 0 is said.
        if says.needed and said in ("", None, (), {}):
            has_no = f"Something {noun} has no name." if field.name == "name" else ""
            raise ValueError(has_no or f"The {noun} names no {says.label}.")
        if field.is_figure and value is not None:
            _check_figure(field, value)
        elif isinstance(value, str) and value:
            _check_text(says, value)


@once
def _ruled(struct: Any) -> tuple[Field, ...]:
    """Kept apart because a book of many tests is checked again whenever the index is derived."""
    return tuple(
        field
        for field in fields(struct)
        if field.says.needed
        or field.says.reads in TEXT_RULES
        or math.isfinite(field.says.low)
        or math.isfinite(field.says.high)
    )


def _check_figure(field: Field, value: float) -> None:
    says = field.says
    if math.isfinite(value) and says.low <= value <= says.high:
        return
    what = says.what
    if says.unit in QUANTITIES:
        what = f"{QUANTITIES[says.unit]} ({says.label})"
    elif not what:
        article = "an" if says.label[0] in "aeiou" else "a"
        what = f"a number of {says.label}" if field.type is int else f"{article} {says.label}"
    bounds = f"from {says.low:g} to {says.high:g}" if math.isfinite(says.high) else f"not below {says.low:g}"
    raise ValueError(f"{value:g} is not {what}; it lies {bounds}.")


def _check_text(says: Says, value: str) -> None:
    if says.reads == "moment" and not is_moment(value):
        raise ValueError(f"{value!r} is not a date; write 2024-05-31 or 2024-05-31T14:30.")
    if says.reads == "day" and not is_day(value):
        raise ValueError(f"{value!r} ({says.label}) is not a date; write 2024-05-31 or 2024-05.")
    if says.reads == "sha256" and not is_sha256(value):
        raise ValueError("A photograph has no SHA-256 of 64 hex digits.")


# Wider than any bench; a year outside is a slip of the hand.
YEARS = range(1900, 3000)
# ASCII: other scripts have digits that look alike and that other programs do not read.
_PART = r"(?a)\d{4}(-(0[1-9]|1[0-2]))?"
_WHOLE = r"(?a)\d{4}-\d\d-\d\d"
_SHA256 = r"[0-9a-f]{64}"


def is_day(text: str) -> bool:
    """Whether it is a day, a month or a year that a label can bear, without a time."""
    if not (re.fullmatch(_PART, text) or re.fullmatch(_WHOLE, text)):
        return False
    try:
        # Filled up to a day, so that the calendar itself checks the parts that were given.
        return date.fromisoformat(f"{text}-01-01"[:10]).year in YEARS
    except ValueError:
        return False


def is_moment(text: str) -> bool:
    """Whether it is a day or a time."""
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def is_sha256(text: str) -> bool:
    """Whether it is a SHA-256 in lower-case hex digits."""
    return re.fullmatch(_SHA256, text) is not None


# -- in words ----------------------------------------------------------------------------------------------


def texts(body: Any, names: Names) -> Iterator[tuple[str, str]]:
    """Label and text of every field that says something, parts and lists taken apart."""
    for field in leaves(type(body)):
        value = value_of(body, field.path)
        # Maps have tables of their own in a package and their own words in lists.
        if value is None or value in ("", ()) or isinstance(value, dict):
            continue
        if value is False and not field.empty_allowed:
            # Of a plain yes or no only the yes says something.
            continue
        # Text in a list stands on one line; what has parts gets a line each.
        if isinstance(value, tuple) and not isinstance(value[0], str):
            for number, item in enumerate(value, 1):
                yield f"{field.says.label} {number}" if field.says.numbered else field.says.label, str(item)
        else:
            yield field.label, text_of(field, value, names)


def text_of(field: Field, value: Any, names: Names) -> str:
    """A value as a reader sees it beside its label, without the unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    # A grade is a number in the book and a word to the reader.
    if field.says.grades:
        return str(field.says.grades[value])
    if isinstance(value, int | float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    if isinstance(value, str) and field.says.entries:
        return names(field.says.entries, value)
    return str(value)


def in_line(body: Any) -> Iterator[str]:
    """What the fields themselves say in the one line of a list."""
    for field in leaves(type(body)):
        value = value_of(body, field.path)
        if field.says.line and value is not None and value not in ("", ()):
            yield field.says.line.format(value)
