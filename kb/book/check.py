"""What may be in the body of a record: the same rules on the way in, on the way out and under amends."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar

import msgspec

from kb.book.kinds.kind import checked
from kb.book.kinds.spot_test import SpotTest, check_test, usual_tests
from kb.book.kinds.table import KEPT, KINDS
from kb.book.line import KIND_SHAPE, check_numbers, for_yaml, may_be_large
from kb.book.text import TEXT_LIMIT, clean_tree
from kb.book.ulid import is_ulid
from kb.model.record import Amend, Line, Withdraw

_T = TypeVar("_T")
Body = dict[str, Any]
Kept = Any
"""A record of a kind other than the spot test: of the type that its kind in KINDS declares."""

_ENCODER = msgspec.json.Encoder()
_USUAL_METHOD = b',"method":"swab"}'


class BookError(Exception):
    """A record was refused or could not be kept. The text says what happened and what to do."""


def body_bytes(kind: str, body: msgspec.Struct | Body) -> bytes:
    """The body as it goes into the file: text cleaned, checked for its kind, and encoded.

    Bodies of kinds this version does not know are cleaned and otherwise passed on.
    Raises ValueError, in a sentence, if the body is not fit to be kept.
    """
    if kind == "test" and (usual := _usual_test(body)):
        return usual
    if kind not in KINDS and KIND_SHAPE.fullmatch(kind) is None:
        raise ValueError(f"{kind[:40]!r} is not a kind of record.")
    try:
        plain, raw = _cleaned(kind, body)
    except UnicodeEncodeError:
        # A lone surrogate, as a broken paste gives it: UTF-8 has no form for it.
        raise ValueError("The entry holds half a character; type it again.") from None
    except RecursionError:
        raise ValueError("The entry is nested too deeply.") from None
    except TypeError as error:
        raise ValueError(f"The entry holds something that cannot be written down: {error}.") from None
    if kind in KINDS:
        made = make_record(kind, plain)
        # Encoded anew only if something was added: most tests come complete.
        if kind == "test" and _spell_out(plain, made):
            raw = _ENCODER.encode(plain)
    elif kind == "amend":
        make_amend(plain)
    elif kind == "withdraw":
        _sound(lambda: _check_withdraw(_convert(plain, Withdraw)))
    # After the kind's own check, whose sentences name the field. What is no number is encoded as null, so
    # that nearly no entry has to be walked through.
    if b"null" in raw or may_be_large(raw):
        check_numbers(plain)
    # Lines are valid YAML as well: an editor and a common reader are enough for the book.
    return for_yaml(raw)


def _usual_test(body: msgspec.Struct | Body) -> bytes:
    """A sound test in plain ASCII as it goes into the file; empty where there is more to see to.

    Nearly every record is one. What is wrong with another is said on the long way, which has the words.
    """
    try:
        raw = _ENCODER.encode(body)
        test = usual_tests().decode(raw)
        # What no field can say alone. A sum that is out by a rounding is left to the long way, and so is a
        # name that begins with a blank: it may be nothing but blanks.
        whole = 0.0
        for name, share in test.parts.items():
            whole += share if name >= "!" else math.inf
        if whole != 1 or not _is_plain(raw):
            return b""
    except Exception:
        return b""
    return raw if test.method else raw[:-1] + _USUAL_METHOD


def _is_plain(raw: bytes) -> bool:
    """Whether no text in it has to be cleaned, which is seen at once on the whole."""
    return len(raw) <= TEXT_LIMIT and raw.isascii() and b"\\" not in raw and b"\x7f" not in raw


def make_record(kind: str, plain: object) -> SpotTest | Kept:
    """A checked record of any kind from plain dicts. Raises ValueError in a sentence."""
    if kind == "test":
        return _sound(lambda: check_test(_convert(plain, SpotTest)))
    return make_kept(kind, plain)


def make_kept(kind: str, plain: object) -> Kept:
    """The same of any kind but the spot test."""
    known = KEPT[kind]
    return _sound(lambda: checked(known, _convert(plain, known.type)))


def make_amend(plain: object) -> Amend:
    """A checked amend from plain dicts. Raises ValueError in a sentence."""
    return _sound(lambda: _check_amend(_convert(plain, Amend)))


def _check_amend(amend: Amend) -> Amend:
    """The same amend, if it could be one of some kind of record. Raises ValueError in a sentence.

    What kind its record is cannot be seen from the amend alone; `kb.book.fold` sees it.
    """
    _check_pointer(amend.of, amend.why)
    if not amend.set:
        raise ValueError("The amendment changes nothing.")
    problems: list[ValueError] = []
    for kind, known in KINDS.items():
        if not set(known.type.__struct_fields__).issuperset(amend.set):
            # An amendment may fit several kinds; the first that takes all of its fields and values is enough.
            continue
        try:
            # On the least body of the kind: what else the record says is not known here.
            make_record(kind, {**known.least, **amend.set})
        except ValueError as error:
            problems.append(error)
        else:
            return amend
    if problems:
        raise problems[0]
    # Fields that fit no kind are told as those of a spot test, which nearly every record is.
    known = KINDS["test"]
    name = next(name for name in amend.set if name not in known.type.__struct_fields__)
    raise ValueError(f"{known.name} has no field {name!r} to amend.")


def _check_withdraw(withdraw: Withdraw) -> Withdraw:
    """The same withdrawal, if it points at something and says why. Raises ValueError in a sentence."""
    _check_pointer(withdraw.of, withdraw.why)
    return withdraw


def decode_test(line: Line) -> SpotTest:
    """The spot test in a line of kind test. Raises ValueError, in a sentence, if it is none."""
    try:
        return check_test(_decoder(SpotTest).decode(line.body))
    except Exception:
        # Once more on the long way, which has the words for what is wrong.
        return _sound(lambda: check_test(_decode(line, _decoder(SpotTest))))


def decode_record(line: Line) -> SpotTest | Kept:
    """The record in a line of any kind in `KINDS`. Raises ValueError, in a sentence, if it is none."""
    if line.kind == "test":
        return decode_test(line)
    return _sound(lambda: checked(KEPT[line.kind], _decode(line, _decoder(KEPT[line.kind].type))))


@cache
def _decoder(body: Any) -> msgspec.json.Decoder[Any]:
    """Made when the first record of the kind is met: few programs meet all of them."""
    return msgspec.json.Decoder(body)


def decode_amend(line: Line) -> Amend:
    """The amendment in a line of kind amend. Raises ValueError, in a sentence, if it is none."""
    return _sound(lambda: _check_amend(_decode(line, _decoder(Amend))))


def decode_withdraw(line: Line) -> Withdraw:
    """The withdrawal in a line of kind withdraw. Raises ValueError, in a sentence, if it is none."""
    return _sound(lambda: _check_withdraw(_decode(line, _decoder(Withdraw))))


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
        # Its target is needed even so: that record should tell of a change that cannot be read.
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
    # Kinds of later versions are cleaned field by field: nothing is known of what their text may hold.
    if kind in KINDS or kind in {"amend", "withdraw"}:
        with contextlib.suppress(UnicodeEncodeError):
            raw = _ENCODER.encode(plain)
            if _is_plain(raw):
                return plain, raw
    plain = clean_tree(plain)
    return plain, _ENCODER.encode(plain)


def _spell_out(plain: Body, test: SpotTest) -> bool:
    # Read by other programs as well, which do not know this program's defaults.
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
    text = text.replace("Object missing required field", "it lacks the field").replace("Object ", "it ")
    text = text.replace("`", "")
    text = text[:1].lower() + text[1:]
    if not path:
        return text
    # A person counts rounds from 1.
    path = re.sub(r"\[(\d+)\]", lambda match: f" {int(match[1]) + 1}", path.rstrip("`"))
    return f"{text} ({path.replace('.', ', ')})"


def _check_pointer(of: str, why: str) -> None:
    if not is_ulid(of):
        raise ValueError(f"{of[:40]!r} is not the id of a record.")
    # Amendments stand in the record for good; a reader years later has nothing else to go by.
    if not why.strip():
        raise ValueError("Say why: a correction without a reason is not kept.")
