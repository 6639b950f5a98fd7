"""Counts of spot tests as studios share them: how often each grade was given, and nothing else."""

from __future__ import annotations

import msgspec

FORMAT = "benchleaf-counts"
VERSION = 2
"""Since 2 a look at nothing that an ink can show, clean or not, counts as one at the paper under it; files
of 1 count it for the ink and are not read."""
MOST_BYTES = 100_000_000
"""A larger file is refused unread. A row takes about 90 bytes, so this is a million of them."""
MOST_TESTS = 2_000_000
"""Tests in one file, of release and of harm each. More than any studio makes."""
MOST_STUDIOS = 4_000
"""Counted studios. With MOST_TESTS each, every sum still fits into 64 bits."""
LABEL_LIMIT = 80
ID_LIMIT = 80


class ReleaseCount(msgspec.Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Release grades 0 to 4 given on one kind of tape. ``parts`` are per cent by volume; "" is not known."""

    adhesive: str
    stage: str
    carrier: str
    method: str
    parts: dict[str, float]
    grades: tuple[int, int, int, int, int]


class HarmCount(msgspec.Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Worst harm grades 0 to 4 seen on one medium. ``parts`` are per cent by volume; "" is not known."""

    medium: str
    paper: str
    method: str
    parts: dict[str, float]
    grades: tuple[int, int, int, int, int]


class CountsFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """What one studio gives to others.

    ``studio`` is a random id of 32 hexadecimal digits, ``label`` what its owner wants it to be called.
    ``checksum`` is the SHA-256 of all but itself and ``added``, the day on which the receiver took it in.
    """

    format: str
    version: int
    studio: str
    label: str
    added: str = ""
    release: tuple[ReleaseCount, ...]
    harm: tuple[HarmCount, ...]
    checksum: str
