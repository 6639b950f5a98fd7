"""Mends, toning tests and housings in tests: from typed words, stored, and what speaks against them."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any, cast

from kb.book.kinds.housing import HOUSING, Housing
from kb.book.kinds.kind import Kind
from kb.book.kinds.mend import MEND, Mend
from kb.book.kinds.table import KINDS
from kb.book.kinds.toning import TONING, Toning
from kb.desk.records import work_records
from kb.desk.records.record import Written, write
from kb.desk.records.typed_fields import record_from_words
from kb.desk.studio import Studio


def mend_from_words(studio: Studio, words: Mapping[str, Any]) -> Mend:
    return cast("Mend", record_from_words(studio, MEND, words))


def toning_from_words(studio: Studio, words: Mapping[str, Any]) -> Toning:
    return cast("Toning", record_from_words(studio, TONING, words))


def housing_from_words(studio: Studio, words: Mapping[str, Any]) -> Housing:
    return cast("Housing", record_from_words(studio, HOUSING, words))


def _kind(body: Any) -> str:
    return next(kind.key for kind in KINDS.values() if kind.type is type(body))


def add(studio: Studio, body: Mend | Toning | Housing) -> Written:
    return write(studio, _kind(body), body)


def warnings(studio: Studio, body: Mend | Toning | Housing) -> tuple[str, ...]:
    return work_records.warnings(studio, KINDS[_kind(body)], body)


def _told(studio: Studio, kind: Kind, sheet: str) -> list[SimpleNamespace]:
    return [SimpleNamespace(**one) for one in work_records.all_told(studio, kind, sheet)]


def mends(studio: Studio, sheet: str = "") -> list[SimpleNamespace]:
    return _told(studio, MEND, sheet)


def tonings(studio: Studio, sheet: str = "") -> list[SimpleNamespace]:
    return _told(studio, TONING, sheet)


def housings(studio: Studio, sheet: str = "") -> list[SimpleNamespace]:
    return _told(studio, HOUSING, sheet)


add_mend = add_toning = add_housing = add
