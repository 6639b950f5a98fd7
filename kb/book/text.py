"""One way in for text: nothing that is stored can steer a terminal, hide or reorder what is read.

Used on every way in (form, command, import) and again on every way out.
"""

from __future__ import annotations

import re
from typing import Any
from unicodedata import is_normalized, normalize

MARK = "\N{REPLACEMENT CHARACTER}"
"""Stands where something was taken out, so that a reader sees it."""
TEXT_LIMIT = 20_000
"""Characters in one text."""
KEY_LIMIT = 120
"""Characters in one name. YAML readers refuse names longer than 1024, escapes counted."""
# Records of this version nest three deep; far deeper is damage or an attack on the reader.
DEPTH_LIMIT = 40

# Control characters but line feed and tab, bidirectional overrides and isolates, and the two
# invisible spaces that no script needs. The joiners U+200C and U+200D are needed and stay.
_UNWANTED = "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\ufeff\u202a-\u202e\u2066-\u2069]+"
_SURROGATE = "[\ud800-\udfff]"
# U+2028 and U+2029 break lines for some readers and not for others.
_BREAKS = "[\t\n\u2028\u2029]+"


def clean_text(s: str, *, limit: int = TEXT_LIMIT, multiline: bool = True) -> str:
    """The text as it may be stored and shown; cleaning it again changes nothing.

    Composed form (NFC), ``\\r\\n`` becomes ``\\n``, each run of unwanted characters becomes one
    visible `MARK`. With ``multiline=False`` line breaks and tabs become a space.
    Raises ValueError, in a sentence, for a text over ``limit`` characters or with half a character
    in it (a lone surrogate), which no file can hold.
    """
    # Before anything else: composing a text of any length could take for ever.
    _check_length(s, limit)
    # Nearly all text; the slower steps are for the rest.
    if s.isascii() and s.isprintable():
        return s
    broken = re.search(_SURROGATE, s)
    if broken:
        raise ValueError(f"The text holds half a character at place {broken.start() + 1}; type it again.")
    if not is_normalized("NFC", s):
        # Composed, so that a name typed on two systems is one name.
        s = normalize("NFC", s)
    s = re.sub(_UNWANTED, MARK, s.replace("\r\n", "\n"))
    if not multiline:
        s = re.sub(_BREAKS, " ", s)
    # Composing may lengthen a text.
    _check_length(s, limit)
    return s


def clean_tree(value: Any, depth: int = 0) -> Any:
    """The same tree of dicts, lists and tuples with every text in it cleaned.

    Keys are cleaned as one-line texts of at most `KEY_LIMIT` characters. Other values are passed on.
    Raises ValueError as `clean_text`, for keys that become equal, and for nesting over `DEPTH_LIMIT`.
    """
    if isinstance(value, str):
        return clean_text(value)
    if depth > DEPTH_LIMIT:
        raise ValueError(f"The entry is nested more than {DEPTH_LIMIT} levels deep.")
    if isinstance(value, list | tuple):
        items = [clean_tree(item, depth + 1) for item in value]
        return items if isinstance(value, list) else tuple(items)
    if not isinstance(value, dict):
        return value
    made: dict[Any, Any] = {}
    for key, item in value.items():
        name = clean_text(key, limit=KEY_LIMIT, multiline=False) if isinstance(key, str) else key
        # Names that differ only in what is invisible would hide one value behind the other.
        if name in made:
            raise ValueError(f"Two names in the entry read the same: {name!r}.")
        made[name] = clean_tree(item, depth + 1)
    return made


def _check_length(s: str, limit: int) -> None:
    if len(s) > limit:
        raise ValueError(f"The text is {len(s):,} characters long; at most {limit:,} fit. Shorten it.")
