"""The flash point of a blend, by the rule that its most flammable part of 5 % or more decides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from kb.desk.materials.physical import Physical, physical
from kb.science.air.flammability import BlendFlash, FlashPart, blend_flash_point

if TYPE_CHECKING:
    from kb.desk.studio import Studio

RULE = "the lowest of the parts from 5 % on; a caution, not a measurement"


def blend_fire(studio: Studio, parts: Mapping[str, float]) -> tuple[str, ...]:
    """One line on the flash point of a blend; none for a pure liquid, whose own figure says it."""
    if len(parts) < 2:
        return ()
    liquids = [physical(studio, part) for part in parts]
    said = flash_words(flash_of(liquids, dict(parts)), {one.id: one for one in liquids})
    return (f"The blend: {said}.",)


def flash_of(liquids: Sequence[Physical], shares: dict[str, float]) -> BlendFlash:
    """The flash point rule for a blend."""
    return blend_flash_point(
        [
            FlashPart(
                name=one.id,
                share=shares[one.id],
                flash_c=one.flash_c,
                never_flashes=one.never_flashes,
                halogenated=one.family == "chlorinated-hydrocarbon",
                aqueous=one.id == "water",
            )
            for one in liquids
        ]
    )


def flash_words(flash: BlendFlash, known: Mapping[str, Physical]) -> str:
    """The flash point of a blend in words, with what the rule lets go and does not know."""

    def called(ids: Sequence[str]) -> str:
        return ", ".join(known[one].name if one in known else one for one in ids)

    if flash.flash_c is None:
        said = "no part of 5 % or more has a flash point known here"
    else:
        said = f"taken to flash at {flash.flash_c:g} °C, that of {called([flash.decided_by])} ({RULE})"
    if flash.unknown:
        said += f"; flash point not known here: {called(flash.unknown)}"
    if flash.small_parts:
        said += f"; below 5 %, but flashes lower: {called(flash.small_parts)}"
    for caution in flash.cautions:
        # The rule speaks of ids; a person reads names.
        said += "; " + " ".join(_named(word, known) for word in caution.split(" "))
    return said


def _named(word: str, known: Mapping[str, Physical]) -> str:
    bare = word.rstrip(",")
    return known[bare].name + word[len(bare) :] if bare in known and bare != "water" else word
