"""One reading of the water in which a sheet is washed or buffered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import BatchOrWords, NeededSheet, Remarks, moment
from kb.model.record import BookStruct

READ = ("ph", "conductivity_us_cm", "temperature_c", "colour", "remarks")
"""Fields of which one at least is given; the time alone is no reading."""


class BathReading(BookStruct, frozen=True, kw_only=True):
    """One reading of the water in which a sheet is washed or buffered.

    ``bath`` counts the changes of water on that sheet from 1; ``minutes`` is the time since the sheet went
    into this bath. What was not measured is left out and never stands for nothing.
    """

    sheet: NeededSheet
    bath: Annotated[
        int,
        Says(
            "bath",
            "Number of the change of water on this sheet, counted from 1.",
            low=1,
            high=999,
            what="a bath, counted from 1",
        ),
    ] = 1
    minutes: Annotated[
        float | None,
        Says(
            "time in the bath", "Time since the sheet went into this bath.", unit="min", low=0, high=100_000
        ),
    ] = None
    method: Annotated[
        str, Says("method", "How the water reaches the sheet: blotter, float, immersion, suction ...")
    ] = ""
    water: Annotated[
        str, Says("water", "What the bath is: deionised, calcium hydroxide ..., and how much of it.")
    ] = ""
    ph: Annotated[float | None, Says("pH", "pH of the water.", unit="pH", form="pH", low=0, high=14)] = None
    conductivity_us_cm: Annotated[
        float | None, Says("conductivity", "Conductivity of the water.", unit="µS/cm", low=0, high=1_000_000)
    ] = None
    temperature_c: Annotated[
        float | None, Says("temperature", "Temperature of the water.", unit="°C", low=-5, high=105)
    ] = None
    colour: Annotated[str, Says("colour", "Colour of the water in words, as seen against white.")] = ""
    batch: BatchOrWords = ""
    read_at: Annotated[
        str, moment("read at", "Read at", "When it was read, if not when it was written down (ISO 8601).")
    ] = ""
    remarks: Remarks = ""


def _check(reading: BathReading) -> None:
    # With 0 neither empty: a conductivity of nothing was read, as deionised water shows.
    if all(getattr(reading, name) in {None, ""} for name in READ):
        raise ValueError("Nothing was read: give pH, conductivity, temperature, colour or remarks.")


def _words(read: BathReading, names: Names) -> Iterator[str]:
    said = (
        "" if read.ph is None else f"pH {read.ph:g}",
        "" if read.conductivity_us_cm is None else f"{read.conductivity_us_cm:g} µS/cm",
        "" if read.temperature_c is None else f"{read.temperature_c:g} °C",
        read.colour,
        read.water,
        f"batch {read.batch[:10]}" if read.batch else "",
    )
    # A reading of remarks alone is still a line in the list.
    yield from said if any(said) else (read.remarks,)


def _line(read: BathReading, said: str) -> str:
    after = "" if read.minutes is None else f" at {read.minutes:g} min"
    return f"Bath {read.bath}{after}: {said}"


READING = Kind(
    "reading",
    "bath reading",
    "bath_readings",
    BathReading,
    {"sheet": "-", "ph": 7.0, "remarks": "-"},
    command="-",
    called=("reading", "readings", "wash", "washing"),
    when="read_at",
    check=_check,
    words=_words,
    line=_line,
)
