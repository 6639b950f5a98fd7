"""The form about the air of a room as it is typed, and what the desk makes of it. No widgets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, NamedTuple, TypeVar

if TYPE_CHECKING:
    from kb.desk.air.air import Air
    from kb.desk.studio import Studio
    from kb.tui.screens.records.draft import Chosen

T = TypeVar("T")
USUAL_WARMTH = "20 °C"
BY_AREA = ("dish", "bath")
SOMETIMES = ("per_hour", "area", "space")
"""Lines that not every way of working has."""


class FieldWords(NamedTuple):
    """A line of the form: its field, its label, and what to type, or what holds while nothing is."""

    name: str
    label: str
    hint: str


LINES = (
    FieldWords("amount", "Amount", "of one, e.g. 0.2 ml, g"),
    FieldWords("per_hour", "Per hour", "e.g. 10; left empty: once"),
    FieldWords("area", "Area", "cm2 of it, e.g. 100"),
    FieldWords("space", "Space", "l of it, e.g. 2"),
    FieldWords("room", "Room", "m3, e.g. 60"),
    FieldWords("air_changes", "Fresh air", "/h, e.g. 0.5 to 2"),
    FieldWords("mixing", "Mixing K", "left empty: 1 to 3"),
    FieldWords("near", "Near field", "left empty: 0.8 m"),
    FieldWords("hours", "Hours", "h, e.g. 2"),
    FieldWords("temp", "Warmth", "left empty: 20 °C"),
)
"""Each but the amount, a volume or a mass, begins with the unit of a number typed without one.

"left empty" is what is reckoned with then.
"""
NEEDED = {
    "liquid": "the liquid or blend",
    "amount": "the amount used each time",
    "room": "the room",
    "air_changes": "the fresh air",
    "hours": "the hours worked",
}


@dataclass
class AirForm:
    """Texts as typed. ``taken`` is what another screen handed over; it holds while its name stands there."""

    liquid: str = ""
    how: str = "swab"
    amount: str = ""
    per_hour: str = ""
    area: str = ""
    space: str = ""
    room: str = ""
    air_changes: str = ""
    mixing: str = ""
    near: str = ""
    hours: str = ""
    temp: str = ""
    taken: Chosen | None = None

    def copy(self) -> AirForm:
        """The form as it is now, for a thread."""
        return replace(self)

    def put(self, name: str, text: str) -> bool:
        """Write a line. True if it changed."""
        if name not in {one.name for one in fields(self)} or getattr(self, name) == text:
            return False
        setattr(self, name, text)
        return True

    def take(self, chosen: Chosen) -> None:
        """A liquid or blend from another screen."""
        self.liquid, self.taken = chosen.name, chosen

    @property
    def untouched(self) -> bool:
        """Whether the liquid is not typed by hand, so that another one may take its place."""
        return not self.liquid.strip() or (self.taken is not None and self.liquid == self.taken.name)

    def asks(self, name: str) -> bool:
        """Whether the way of working has that line: what has an area is not counted by the hour."""
        ways = {"area": self.how in BY_AREA, "space": self.how == "dome", "per_hour": self.how not in BY_AREA}
        return ways.get(name, True)

    def missing(self) -> list[str]:
        """What has to be typed before anything can be worked out, in words."""
        found = [words for name, words in NEEDED.items() if not getattr(self, name).strip()]
        if self.how in BY_AREA and not self.area.strip():
            found.append(f"the area of the {self.how}, by which it gives off vapour")
        if self.how == "dome" and not self.space.strip():
            found.append("the space of the dome, in which vapour gathers")
        return found


def work_out(studio: Studio, form: AirForm) -> Air:
    """The answer of the desk. For a thread. Raises DeskError in words that name the line to mend."""
    from kb.desk.air import air as desk
    from kb.tui.screens.records.draft import typed_parts

    if form.taken is not None and form.liquid == form.taken.name:
        parts = dict(form.taken.parts)
    else:
        parts = typed_parts(studio, form.liquid)
    use = _at("Amount and use", lambda: desk.use_of(studio, parts, **_use(form)))
    room = _at(
        "Room",
        lambda: desk.room_of(
            room=form.room, air_changes=form.air_changes, mixing=form.mixing.strip(), near=form.near.strip()
        ),
    )
    hours = _at("Hours", lambda: desk.hours_of(form.hours))
    temp_c = _at("Warmth", lambda: desk.temperature_of(form.temp or USUAL_WARMTH))
    return desk.air(studio, parts, use, room, hours, temp_c)


def _use(form: AirForm) -> dict[str, str]:
    """Only what the way of working asks for: a line left over from another way does not count."""
    return {
        "amount": form.amount,
        "how": form.how,
        **{
            name: getattr(form, name).strip() if form.asks(name) else ""
            for name in ("per_hour", "area", "space")
        },
    }


def _at(where: str, make: Callable[[], T]) -> T:
    """The same, with the part of the form named in what goes wrong."""
    from kb.desk.errors import DeskError

    try:
        return make()
    except DeskError as error:
        raise DeskError(f"{where}: {error}") from error
