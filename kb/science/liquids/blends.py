"""Blends of liquids: shares by volume, their Hansen parameters, and the text that names a blend."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from kb.science.liquids.solubility import Hsp

# More than rounding in the text of a blend can lose, less than a part that was forgotten.
SHARES_TOLERANCE = 1e-6
"""How far the shares of a blend may be from 1 in sum before they are refused."""

EXPECTED = "expected names and amounts by volume, for example: acetone 50, n-heptane 50"

_SEPARATORS = r"[,;+]"
# A comma that ends a whole number is a decimal comma only if the digits after it end there too,
# so that "acetone 50,1-4-dioxane 50" still falls into two parts.
_DECIMAL_COMMA = r"(?a)(?<![\w.,-])(\d+),(\d+)(?=[\s%,;+]|$)"
_AMOUNT = r"(?a)[+-]?(?:\d+\.?\d*|\.\d+)"
_NAME = r"(?=.*[^\W\d_])[^\W_]+(?:-[^\W_]+)*"


def mix_hansen(hansens: Sequence[Hsp], shares: Sequence[float]) -> Hsp:
    """Hansen parameters of a blend, in MPa^0.5: the average of its parts by volume.

    Source: Hansen 2007 (see kb.science.liquids.solubility). Raises ValueError if the numbers of parts and of
    shares differ, if a share is negative, or if the shares do not sum to 1 within SHARES_TOLERANCE.
    """
    if len(hansens) != len(shares):
        raise ValueError(f"{len(hansens)} liquids but {len(shares)} shares")
    if any(not share >= 0 for share in shares):
        raise ValueError(f"the shares of a blend must not be negative: {list(shares)}")
    total = math.fsum(shares)
    if not abs(total - 1.0) <= SHARES_TOLERANCE:
        raise ValueError(f"the shares of a blend must sum to 1, not {total:.6g}")
    dispersion, polar, bonding = (
        math.fsum(share * hansen[axis] for hansen, share in zip(hansens, shares, strict=True))
        for axis in range(3)
    )
    return (dispersion, polar, bonding)


def normalise(parts: Mapping[str, float]) -> dict[str, float]:
    """Shares by volume from amounts in any one unit: largest first, then by name, zero parts left out.

    The shares sum to exactly 1 (as math.fsum adds them), and the result does not depend on the order
    of ``parts``. Raises ValueError for a negative or non-finite amount, and if nothing is left.
    """
    for name, amount in parts.items():
        if not 0 <= amount < math.inf:
            raise ValueError(f"the amount of {name} must be zero or more, not {amount}")
    try:
        total = math.fsum(parts.values())
    except OverflowError:
        raise ValueError("the amounts of the blend are too large to add up") from None
    if total <= 0:
        raise ValueError("a blend needs at least one part with an amount above zero")
    # A share too small for a number would be a part of nothing.
    shares = {name: amount / total for name, amount in parts.items() if amount / total > 0}
    # Ordered before and after: taking the rounding out needs to know which share is largest.
    return _in_order(_summing_to_one(_in_order(shares)))


def _in_order(shares: Mapping[str, float]) -> dict[str, float]:
    return dict(sorted(shares.items(), key=lambda item: (-item[1], item[0])))


def _summing_to_one(shares: dict[str, float]) -> dict[str, float]:
    """Take the rounding error, a few units in the last place, out of the largest share."""
    names = list(shares)
    largest = shares[names[0]]
    # Among equals the first name may grow and the last may shrink: the order by name then stays.
    last_equal = max(name for name in names if shares[name] == largest)
    while (total := math.fsum(shares.values())) != 1.0:
        shares[names[0] if total < 1.0 else last_equal] += 1.0 - total
    return shares


def blend_id(parts: Mapping[str, float]) -> str:
    """The one text that names a blend: ``acetone``, or ``acetone 50 + n-heptane 50`` in per cent by volume.

    Per cents are rounded to one decimal, and a part that rounds to nothing is left out. The order of
    ``parts`` and the unit of the amounts do not matter. Raises ValueError like normalise.
    """
    shares = normalise(parts)
    kept = {name: share for name, share in shares.items() if _tenths(share) > 0}
    # The rest is scaled up before it is rounded, so that reading the text back gives the same text.
    tenths = {name: _tenths(share) for name, share in normalise(kept).items()}
    if len(tenths) == 1:
        return next(iter(tenths))
    ordered = sorted(tenths.items(), key=lambda item: (-item[1], item[0]))
    return " + ".join(f"{name} {_decimal(count)}" for name, count in ordered)


def _tenths(share: float) -> int:
    """A share in whole tenths of a per cent; exact halves go to the even number."""
    # The inner rounding removes float noise, so that 12.35 and 87.65 per cent are both seen as halves.
    return round(round(1000.0 * share, 6))


def _decimal(tenths: int) -> str:
    # Whole per cents without a point: the text that people know.
    whole, tenth = divmod(tenths, 10)
    return f"{whole}.{tenth}" if tenth else str(whole)


def parse_blend(text: str) -> dict[str, float]:
    """Read ``acetone 50, n-heptane 50`` and the like; gives shares as normalise does.

    Parts are separated by commas, semicolons or plus signs. A part is a name and an amount in either
    order, with or without a per cent sign; one name alone is a pure liquid. Blanks and underscores in
    a name become hyphens. Raises ValueError saying what was expected.
    """
    amounts: dict[str, float] = {}
    text = re.sub(r"(?i)(?<=[\d\s])vol\.?\s*%|%\s*(?:vol\b|v/v)", "%", text)
    # Decimal commas first: after that a comma only parts.
    chunks = [
        chunk for chunk in re.split(_SEPARATORS, re.sub(_DECIMAL_COMMA, _pointed, text)) if chunk.strip()
    ]
    if not chunks:
        raise ValueError(f"nothing was given; {EXPECTED}")
    for chunk in chunks:
        name, amount = _part(chunk, alone=len(chunks) == 1)
        if name in amounts:
            raise ValueError(f"{name} is given twice; {EXPECTED}")
        amounts[name] = amount
    # Of three thirds each may be rounded.
    if "%" in text and abs(math.fsum(amounts.values()) - 100.0) > 1.0:
        raise ValueError(f"the parts come to {math.fsum(amounts.values()):g} % and not to 100; {EXPECTED}")
    # A part of 0 was named and not used.
    return normalise(_unrounded({name: amount for name, amount in amounts.items() if amount}))


def _pointed(found: re.Match[str]) -> str:
    """A number with a decimal comma, with a point. Raises ValueError for "1,000": one or one thousand."""
    _number(found[0], found.string[found.end() :].lstrip().startswith("%"))
    return f"{found[1]}.{found[2]}"


def _number(text: str, of_hundred: bool) -> float:
    # Most blends are typed without such a number, and need not wait for the units to be loaded.
    from kb.science.quantities import parse_number

    return parse_number(text, 100.0 if of_hundred else math.inf)


def _part(chunk: str, alone: bool) -> tuple[str, float]:
    words = chunk.replace("%", " % ").split()
    numbers = [word for word in words if re.fullmatch(_AMOUNT, word)]
    name = "-".join(word for word in words if word != "%" and word not in numbers)
    name = name.lower().replace("_", "-")
    if not re.fullmatch(_NAME, name):
        raise ValueError(f"{chunk.strip()!r} has no name that can be read; {EXPECTED}")
    if alone and not numbers and "%" not in words:
        return name, 1.0
    # The amount stands at one end: a number within belongs to the name.
    edge = [word for word in words if word != "%"]
    if len(numbers) != 1 or numbers[0] not in (edge[0], edge[-1]) or not _percent_follows(words, numbers[0]):
        raise ValueError(f"{chunk.strip()!r} is not one name with one amount; {EXPECTED}")
    amount = float(numbers[0])
    if re.search(r"\.\d00$", numbers[0]):
        _number(numbers[0], "%" in words)
    if amount < 0:
        raise ValueError(f"the amount of {name} must not be negative; {EXPECTED}")
    return name, amount


def _percent_follows(words: list[str], number: str) -> bool:
    """Whether a per cent sign, if there is one, stands once and behind the amount."""
    return "%" not in words or (words.count("%") == 1 and words.index("%") == words.index(number) + 1)


def _unrounded(amounts: dict[str, float]) -> dict[str, float]:
    """Per cents that were rounded to one decimal, set back so that they sum to 100.

    66.7 + 16.7 + 16.7 is how blend_id writes 4:1:1. Scaling it to 100 would make 66.6 of the first part
    and so another blend; spreading the difference evenly cannot move any part past its rounding.
    """
    short = 100.0 - sum(amounts.values())
    # Beyond what rounding explains it is another blend and stays as it was typed.
    if not abs(short) <= 0.05 * len(amounts) + 1e-9:
        return amounts
    # Only per cents of one decimal were rounded by blend_id.
    if any(abs(10 * amount - round(10 * amount)) > 1e-9 for amount in amounts.values()):
        return amounts
    return {name: amount + short / len(amounts) for name, amount in amounts.items()}
