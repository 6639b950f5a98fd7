"""A reading of a bath from one typed line: ``bath 2, 10 min, pH 6.9, 320 uS, 18 C, colour pale straw``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from kb.book.kinds.bath_reading import BathReading
from kb.desk.amounts import celsius, conductivity, minutes
from kb.desk.errors import DeskError
from kb.desk.water.wash import NAMES

if TYPE_CHECKING:
    from kb.desk.studio import Studio

EXAMPLE = "bath 2, 10 min, pH 6.9, 320 uS, 18 C, colour pale straw"
WORDS = "also: water ..., by float, batch 01ABC, note ..."
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_BATH = re.compile(r"bath\s*(\d+)", re.IGNORECASE)
_PH = re.compile(rf"ph\s*=?\s*{_NUMBER}", re.IGNORECASE)
_CONDUCTIVITY = re.compile(rf"{_NUMBER}\s*[uµμm]s(?:\s*/\s*c?m)?", re.IGNORECASE)
_TEMPERATURE = re.compile(rf"{_NUMBER}\s*°?\s*[cf]", re.IGNORECASE)
_TIME = re.compile(
    rf"\d+:\d+(?::\d+)?|{_NUMBER}\s*(?:s|min|minutes?|h|hours?)(?:\s*\d+\s*\w*)*", re.IGNORECASE
)
_TOLD = re.compile(r"(colour|color|water|by|method|batch|note|remarks)\s*[:=]?\s+(.+)", re.IGNORECASE)
_FIELDS = {"color": "colour", "by": "method", "note": "remarks"}


def reading(studio: Studio, sheet: str, text: str) -> BathReading:
    """The reading that a line says. Without "bath N" it goes on in the last bath of the sheet.

    Raises DeskError naming the piece that is not understood, so that nothing is written down half.
    """
    from kb.desk.making.batches import batch_id
    from kb.desk.water.readings import all_readings

    if not sheet.strip():
        raise DeskError("Name the sheet first.")
    fields: dict[str, Any] = {}
    for piece in re.split(r";|,(?!\d)", text):
        if piece.strip():
            name, value = _piece(piece.strip())
            if name in fields:
                raise DeskError(f'"{piece.strip()}": {name.split("_")[0]} is said twice.')
            fields[name] = value
    if not set(fields) - {"bath", "minutes"}:
        raise DeskError(f"Nothing was read yet. Write, for instance: {EXAMPLE}.")
    if "batch" in fields:
        fields["batch"] = batch_id(studio, fields["batch"])
    if "bath" not in fields:
        fields["bath"] = max((one.reading.bath for one in all_readings(studio, sheet)), default=1)
    return BathReading(sheet=sheet.strip(), **fields)


def _piece(text: str) -> tuple[str, Any]:
    if found := _BATH.fullmatch(text):
        return "bath", int(found[1])
    if found := _PH.fullmatch(text):
        return "ph", float(found[1].replace(",", "."))
    if _TIME.fullmatch(text):
        return "minutes", minutes(text.replace(",", "."))
    if _CONDUCTIVITY.fullmatch(text):
        return "conductivity_us_cm", conductivity(text.replace(",", "."))
    if _TEMPERATURE.fullmatch(text):
        return "temperature_c", celsius(text.replace(",", "."))
    if text.lower() in NAMES:
        return "method", text.lower()
    if found := _TOLD.fullmatch(text):
        word = found[1].lower()
        return _FIELDS.get(word, word), found[2].strip()
    raise DeskError(f'"{text}" is not understood. Write, for instance: {EXAMPLE}; {WORDS}.')
