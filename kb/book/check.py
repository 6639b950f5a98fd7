"""What may be in the body of a record: the same rules on the way in, on the way out and under amends."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import cache, partial
from typing import Any, NamedTuple, TypeVar, cast

import msgspec

from kb.book.check_batch import check_batch
from kb.book.check_reading import check_reading
from kb.book.check_sheet import check_condition, check_patch, check_sheet, check_strip
from kb.book.check_work import check_housing, check_mend, check_toning
from kb.book.line import check_numbers, for_yaml
from kb.book.text import KEY_LIMIT, TEXT_LIMIT, clean_tree
from kb.book.ulid import is_ulid
from kb.model.kept import KEPT_TYPES
from kb.model.record import (
    HARM_KINDS,
    Amend,
    Batch,
    BathReading,
    Bottle,
    Housing,
    Line,
    Mend,
    Site,
    SpotTest,
    Toning,
    Withdraw,
)
from kb.model.sheet_record import Condition, PatchDone, Sheet, Strip

_T = TypeVar("_T")
Body = dict[str, Any]
Kept = Bottle | BathReading | Batch | Mend | Toning | Housing | Sheet | Condition | Strip | PatchDone
"""What the book keeps besides spot tests and changes of records."""
TEST_FIELDS = frozenset(SpotTest.__struct_fields__)
BOTTLE_DATES = ("opened", "expires", "peroxide_tested", "finished")
BOTTLE_YEARS = range(1900, 3000)
GRADES = range(5)
PARTS_TOLERANCE = 1e-6
MOST_PARTS = 40
"""Liquids in one blend. Nobody pours more; a line of thousands of shares only stops whoever reads it."""

_ENCODER = msgspec.json.Encoder()
_TEST = msgspec.json.Decoder(SpotTest)
_AMEND = msgspec.json.Decoder(Amend)
_WITHDRAW = msgspec.json.Decoder(Withdraw)
_SHA256 = re.compile(r"[0-9a-f]{64}")
_PART_OF_DATE = re.compile(r"\d{4}(-(0[1-9]|1[0-2]))?", re.ASCII)
_WHOLE_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)


class BookError(Exception):
    """A record was refused or could not be kept. The text says what happened and what to do."""


def body_bytes(kind: str, body: msgspec.Struct | Body) -> bytes:
    """The body as it goes into the file: text cleaned, checked for its kind, and encoded.

    Bodies of kinds this version does not know are cleaned and otherwise passed on.
    Raises ValueError, in a sentence, if the body is not fit to be kept.
    """
    try:
        plain, raw = _cleaned(kind, body)
    except UnicodeEncodeError:
        raise ValueError("The entry holds half a character; type it again.") from None
    except RecursionError:
        raise ValueError("The entry is nested too deeply.") from None
    except TypeError as error:
        raise ValueError(f"The entry holds something that cannot be written down: {error}.") from None
    if kind == "test":
        if _spell_out(plain, make_test(plain)):
            raw = _ENCODER.encode(plain)
    elif kind == "amend":
        make_amend(plain)
    elif kind == "withdraw":
        make_withdraw(plain)
    elif kind in KEPT:
        make_kept(kind, plain)
    check_numbers(plain)
    return for_yaml(raw)


def make_test(plain: object) -> SpotTest:
    """A checked spot test from plain dicts. Raises ValueError in a sentence."""
    return _sound(lambda: check_test(_convert(plain, SpotTest)))


def check_test(test: SpotTest) -> SpotTest:
    """The same test, if its grades, shares, times and places can be. Raises ValueError in a sentence."""
    _check_parts(test.parts)
    if test.release is not None and test.release not in GRADES:
        raise ValueError(f"Release is graded 0 to 4, not {test.release}.")
    for kind, grade in test.harm.items():
        if kind not in HARM_KINDS:
            raise ValueError(f"{kind!r} is not a kind of harm; known are {', '.join(HARM_KINDS)}.")
        if grade not in GRADES:
            raise ValueError(f"Harm ({kind}) is graded 0 to 4, not {grade}.")
    for number, made in enumerate(test.rounds, 1):
        if not (math.isfinite(made.dwell_s) and made.dwell_s >= 0):
            raise ValueError(f"The dwell of round {number} is not a time in seconds: {made.dwell_s}.")
    site = test.site
    if site.x_mm is not None or site.y_mm is not None:
        _check_place(site)
    for photo in test.photos:
        if _SHA256.fullmatch(photo.sha256) is None:
            raise ValueError(f"The photograph {photo.path!r} has no SHA-256 of 64 hex digits.")
    if test.tested_at and not _is_date(test.tested_at):
        raise ValueError(f"{test.tested_at!r} is not a date; write 2024-05-31 or 2024-05-31T14:30.")
    return test


def _check_place(site: Site) -> None:
    for name, place_mm in (("x_mm", site.x_mm), ("y_mm", site.y_mm)):
        if place_mm is not None and not math.isfinite(place_mm):
            raise ValueError(f"The place of the spot ({name}) is not a length in mm: {place_mm}.")


def check_bottle(bottle: Bottle) -> Bottle:
    """The same bottle, if it holds a liquid and its dates can be. Raises ValueError in a sentence."""
    if not bottle.liquid.strip():
        raise ValueError("The bottle names no liquid.")
    for name in BOTTLE_DATES:
        day = getattr(bottle, name)
        if day and not _is_day(day):
            raise ValueError(
                f"{day!r} ({name.replace('_', ' ')}) is not a date; write 2024-05-31 or 2024-05."
            )
    return bottle


class KeptKind(NamedTuple):
    """A kind of record that the book keeps besides tests and changes.

    ``name`` begins a sentence; ``least`` is the least body that can be, so that an amendment can be
    checked alone.
    """

    name: str
    type: type[Any]
    check: Callable[[Any], Any]
    least: Mapping[str, Any]


KEPT: dict[str, KeptKind] = {
    "bottle": KeptKind("A bottle", KEPT_TYPES["bottle"], check_bottle, {"liquid": "water"}),
    "reading": KeptKind(
        "A bath reading", KEPT_TYPES["reading"], check_reading, {"sheet": "-", "ph": 7.0, "remarks": "-"}
    ),
    "batch": KeptKind("A batch", KEPT_TYPES["batch"], check_batch, {"name": "-", "recipe": "-"}),
    "mend": KeptKind("A mend", KEPT_TYPES["mend"], check_mend, {"sheet": "-"}),
    "toning": KeptKind("A toning test", KEPT_TYPES["toning"], check_toning, {"tissue": "-"}),
    "housing": KeptKind("A housing", KEPT_TYPES["housing"], check_housing, {"sheet": "-"}),
    "sheet": KeptKind("A sheet", KEPT_TYPES["sheet"], check_sheet, {"sheet": "-"}),
    "condition": KeptKind(
        "A condition", KEPT_TYPES["condition"], check_condition, {"sheet": "-", "damage": "tear"}
    ),
    "strip": KeptKind(
        "A strip", KEPT_TYPES["strip"], check_strip, {"sheet": "-", "face": "front", "outline": "0,0 1,0 1,1"}
    ),
    "patch": KeptKind(
        "A patch",
        KEPT_TYPES["patch"],
        check_patch,
        {"sheet": "-", "patch": "-", "face": "front", "outline": "0,0 1,0 1,1"},
    ),
}
KNOWN_KINDS = frozenset({"test", "amend", "withdraw", *KEPT})


def make_kept(kind: str, plain: object) -> Kept:
    """A checked record of one of the kept kinds from plain dicts. Raises ValueError in a sentence."""
    known = KEPT[kind]
    return cast("Kept", _sound(lambda: known.check(_convert(plain, known.type))))


class Amendable(NamedTuple):
    """A kind of record whose fields can be corrected: its name, fields, least body and check."""

    name: str
    fields: frozenset[str]
    least: Mapping[str, Any]
    make: Callable[[object], SpotTest | Kept]


AMENDABLE: dict[str, Amendable] = {
    "test": Amendable("A spot test", TEST_FIELDS, {"parts": {"water": 1.0}}, make_test),
    **{
        kind: Amendable(
            known.name, frozenset(known.type.__struct_fields__), known.least, partial(make_kept, kind)
        )
        for kind, known in KEPT.items()
    },
}


def make_amend(plain: object) -> Amend:
    """A checked amend from plain dicts. Raises ValueError in a sentence."""
    return _sound(lambda: check_amend(_convert(plain, Amend)))


def check_amend(amend: Amend) -> Amend:
    """The same amend, if it could be one of some kind of record. Raises ValueError in a sentence.

    What kind its record is cannot be seen from the amend alone; `kb.book.fold` sees it.
    """
    _check_pointer(amend.of, amend.why)
    if not amend.set:
        raise ValueError("The amendment changes nothing.")
    fitting = [known for known in AMENDABLE.values() if known.fields.issuperset(amend.set)]
    problems: list[ValueError] = []
    for known in fitting:
        try:
            known.make({**known.least, **amend.set})
        except ValueError as error:
            problems.append(error)
        else:
            return amend
    if problems:
        raise problems[0]
    # Fields that fit no kind are told as those of a spot test, which nearly every record is.
    known = AMENDABLE["test"]
    name = next(name for name in amend.set if name not in known.fields)
    raise ValueError(f"{known.name} has no field {name!r} to amend.")


def make_withdraw(plain: object) -> Withdraw:
    """A checked withdrawal from plain dicts. Raises ValueError in a sentence."""
    return _sound(lambda: check_withdraw(_convert(plain, Withdraw)))


def check_withdraw(withdraw: Withdraw) -> Withdraw:
    """The same withdrawal, if it points at something and says why. Raises ValueError in a sentence."""
    _check_pointer(withdraw.of, withdraw.why)
    return withdraw


def decode_test(line: Line) -> SpotTest:
    """The spot test in a line of kind test. Raises ValueError, in a sentence, if it is none."""
    return _sound(lambda: check_test(_decode(line, _TEST)))


def decode_kept(kind: str, line: Line) -> Kept:
    """The record in a line of a kept kind. Raises ValueError, in a sentence, if it is none."""
    return cast("Kept", _sound(lambda: KEPT[kind].check(_decode(line, _decoder(kind)))))


@cache
def _decoder(kind: str) -> msgspec.json.Decoder[Any]:
    """Made when the first record of the kind is met: few programs meet all of them."""
    return msgspec.json.Decoder(KEPT[kind].type)


def decode_amend(line: Line) -> Amend:
    """The amendment in a line of kind amend. Raises ValueError, in a sentence, if it is none."""
    return _sound(lambda: check_amend(_decode(line, _AMEND)))


def decode_withdraw(line: Line) -> Withdraw:
    """The withdrawal in a line of kind withdraw. Raises ValueError, in a sentence, if it is none."""
    return _sound(lambda: check_withdraw(_decode(line, _WITHDRAW)))


def _sound(make: Callable[[], _T]) -> _T:
    """What ``make`` gives. Raises ValueError, in a sentence, for whatever goes wrong in it.

    A line of another bench may hold anything, and a check that was not ready for it must not stop the
    reading of all other lines: an append-only book cannot be mended by hand.
    """
    try:
        return make()
    except ValueError:
        raise
    except Exception as error:
        raise ValueError(f"The entry cannot be worked with ({type(error).__name__}: {error}).") from None


def pointed_at(line: Line) -> tuple[str, str]:
    """What an amendment or withdrawal points at , and what is wrong with it; empty for nothing."""
    try:
        return (decode_amend if line.kind == "amend" else decode_withdraw)(line).of, ""
    except ValueError as error:
        problem = f"a change that cannot be read: {error}"
    try:
        return msgspec.json.decode(line.body, type=_Pointer).of, problem
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return "", problem


class _Pointer(msgspec.Struct):
    of: str = ""


def _cleaned(kind: str, body: msgspec.Struct | Body) -> tuple[Body, bytes]:
    """The body with its text cleaned, as plain dicts and lists and as JSON."""
    plain = msgspec.to_builtins(body, str_keys=True)
    if not isinstance(plain, dict):
        raise ValueError("The entry is not a set of named fields.")
    if kind in KNOWN_KINDS:
        # Most entries are plain ASCII, and that is seen at once on the whole.
        with contextlib.suppress(UnicodeEncodeError):
            raw = _ENCODER.encode(plain)
            if len(raw) <= TEXT_LIMIT and raw.isascii() and b"\\" not in raw and b"\x7f" not in raw:
                return plain, raw
    plain = clean_tree(plain)
    return plain, _ENCODER.encode(plain)


def _spell_out(plain: Body, test: SpotTest) -> bool:
    """Write out the defaults that mean something: a later change of default must not reach back."""
    missing = [photo for photo in plain.get("photos", ()) if "when" not in photo]
    for photo in missing:
        photo["when"] = "after"
    if "method" in plain:
        return bool(missing)
    plain["method"] = test.method
    return True


def _convert(plain: object, kind: type[_T]) -> _T:
    try:
        return msgspec.convert(plain, kind)
    except msgspec.ValidationError as error:
        raise ValueError(f"The entry does not fit: {_in_words(str(error))}.") from None


def _decode(line: Line, decoder: msgspec.json.Decoder[_T]) -> _T:
    try:
        return decoder.decode(line.body)
    except msgspec.ValidationError as error:
        raise ValueError(f"The entry does not fit: {_in_words(str(error))}.") from None
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise ValueError(f"The entry cannot be read ({error}).") from None


def _in_words(error: str) -> str:
    """The decoder's message without its path syntax: ``$.rounds[0].dwell_s`` -> rounds 1, dwell_s."""
    text, _, path = error.partition(" - at `$.")
    text = text.replace("Object ", "it ").replace("`", "")
    text = text[:1].lower() + text[1:]
    if not path:
        return text
    path = re.sub(r"\[(\d+)\]", lambda match: f" {int(match[1]) + 1}", path.rstrip("`"))
    return f"{text} ({path.replace('.', ', ')})"


def _check_parts(parts: dict[str, float]) -> None:
    if not parts:
        raise ValueError("The test names no liquid.")
    if len(parts) == 1 and _is_plain(parts):
        return
    if len(parts) > MOST_PARTS:
        raise ValueError(f"The liquid has {len(parts):,} parts; at most {MOST_PARTS} are taken.")
    for name, share in parts.items():
        if not name.strip():
            raise ValueError("A part of the liquid has no name.")
        if len(name) > KEY_LIMIT:
            raise ValueError(f"The name {name[:40]!r}... of a part is longer than {KEY_LIMIT} characters.")
        if not (math.isfinite(share) and share > 0):
            raise ValueError(f"The share of {name} is {share}; shares are greater than 0.")
    total = math.fsum(parts.values())
    if abs(total - 1) > PARTS_TOLERANCE:
        raise ValueError(f"The shares of the liquid sum to {total:.6g}, not to 1.")


def _is_plain(parts: dict[str, float]) -> bool:
    """Whether it is all one liquid under a usable name, as in nearly every test."""
    ((name, share),) = parts.items()
    return share == 1.0 and len(name) <= KEY_LIMIT and bool(name.strip())


def _check_pointer(of: str, why: str) -> None:
    if not is_ulid(of):
        raise ValueError(f"{of[:40]!r} is not the id of a record.")
    if not why.strip():
        raise ValueError("Say why: a correction without a reason is not kept.")


def _is_day(text: str) -> bool:
    """Whether the text is a day, a month or a year that a bottle can bear, without a time."""
    if not (_PART_OF_DATE.fullmatch(text) or _WHOLE_DATE.fullmatch(text)):
        return False
    try:
        return date.fromisoformat(f"{text}-01-01"[:10]).year in BOTTLE_YEARS
    except ValueError:
        return False


def _is_date(text: str) -> bool:
    if _PART_OF_DATE.fullmatch(text):
        return True
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True
