"""Blends that were found, laid out in words: a row, what is gained, and the whole of one. No widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.tui.text import cut, fit

if TYPE_CHECKING:
    from kb.desk.liquids.blend_lines import BlendFound, Blends
    from kb.desk.liquids.drying import Drying
    from kb.desk.materials.safety import SafetyNote
    from kb.desk.studio import Studio
    from kb.model.question import Question

LIMIT = 12
FIXED = 3 + 6 + 7 + 7
"""Cells of a row besides the two names."""
LAST_FROM = 68
"""Width from which a row has room for what dries last."""
NO_TAPE = (
    "Blends are found for an adhesive. Name the tape or adhesive in the question first: Esc goes back to it, "
    "/ to its blanks."
)
SIGNS_ONLY = (
    "The tape is known by its signs only, and blends are found for one adhesive. Choose one in the first "
    "blank of the question (Esc, then /)."
)
TOLD_AT = (0.0, 50.0, 80.0, 95.0)


class Whole(NamedTuple):
    """One blend with its drying and its safety note; ``trouble`` says why there is no drying path."""

    blend: BlendFound
    drying: Drying | None
    trouble: str
    safety: SafetyNote


def look(
    studio: Studio, question: Question, carrier_too: bool = False, instead_of: str | None = None
) -> Blends:
    """Find blends for a question. For a thread. Raises DeskError in words for a person at the screen."""
    from kb.desk.errors import DeskError
    from kb.desk.liquids.blends import find_blends

    if not question.adhesive:
        raise DeskError(SIGNS_ONLY if question.may_be else NO_TAPE)
    return find_blends(studio, question, LIMIT, carrier_too, instead_of=instead_of)


def whole(studio: Studio, blend: BlendFound, question: Question) -> Whole:
    """Drying, against what the question has within reach, and safety of one blend. For a thread."""
    from kb.desk.errors import DeskError
    from kb.desk.liquids.drying import drying_path
    from kb.desk.liquids.spheres import adhesive_spheres, spheres_in_reach
    from kb.desk.materials.safety import safety_note

    parts = shares(blend)
    note = safety_note(studio, parts)
    try:
        into = adhesive_spheres(studio, question.adhesive)
        out_of, _ = spheres_in_reach(studio, question, with_carrier=True)
        return Whole(blend, drying_path(studio, parts, into=into, out_of=out_of), "", note)
    except DeskError as error:
        return Whole(blend, None, str(error), note)


def shares(blend: BlendFound) -> dict[str, float]:
    """Parts as shares of one."""
    return {part: percent / 100.0 for part, percent in blend.parts_pct.items()}


def _widths(width: int) -> tuple[int, int]:
    """Cells for the name, and for what dries last; a narrow row leaves the latter to the pane."""
    room = max(20, width - FIXED)
    last = room // 5 if width >= LAST_FROM else 0
    return room - last, last


def header(width: int) -> str:
    """The line over the rows."""
    name, last = _widths(width)
    words = "dries last"[: last - 1] if last else ""
    return cut(
        f"{'':>2} {'blend':<{name - 1}} {'clear':>6}{'inside':>7}{'hazard':>7} {words}", width
    ).rstrip()


def row(one: BlendFound, width: int) -> str:
    """A blend on one line: RED beyond the nearest in reach, RED to the adhesive, hazard, what stays last."""
    name, last = _widths(width)
    clear = "-" if one.margin is None else f"{one.margin:+.2f}"
    inside = f"{max(one.red_into.values()):.2f}" if one.red_into else "-"
    left = one.last or (
        "together" if len(one.drying) == 1 and "dry together" in one.drying[0] else "not known"
    )
    figures = f"{clear:>6}{inside:>7}{one.hazard:>7.2f}"
    return cut(
        f"{one.rank:>2} {fit(parts_cut(one.name, name - 1), name - 1)} {figures} {cut(left, last - 1)}", width
    )


def parts_cut(name: str, width: int) -> str:
    """A blend's name in so many cells: every part is cut alike, and keeps its share."""
    parts = name.split(" + ")
    if len(name) <= width or len(parts) < 2:
        return name
    room = (width - 3 * (len(parts) - 1)) // len(parts)
    short = []
    for part in parts:
        liquid, blank, share = part.partition(" %")[0].rpartition(" ")
        ending = f"{blank}{share} %" if part.endswith(" %") and liquid else ""
        short.append(f"{cut(liquid if ending else part, max(3, room - len(ending)))}{ending}")
    return " + ".join(short)


def gist(one: BlendFound, found: Blends) -> str:
    """What one wants to know of the row one stands on."""
    lines = [
        one.gain.text[:1].upper() + one.gain.text[1:] + "." if one.gain else "No pure liquid is near it."
    ]
    if one.alone_does:
        lines.append(f"{one.alone_does} alone clears as well and is no worse: mixing gains nothing.")
    lines += ["", *_reach(one), "", "Drying", *(f"- {text}" for text in one.drying)]
    lines += ["", f"Fire: {one.flash}.", f"Vapour: {one.exposure}.", f"Mixing: {one.mixing}."]
    return "\n".join([*lines, "", *found.notes, "", found.objective, f"{found.model}. {found.source}."])


def _reach(one: BlendFound) -> list[str]:
    lines = [
        f"Into {name}: RED {red:.2f}{'' if red <= 1 else ', outside'}" for name, red in one.red_into.items()
    ]
    for name, red in sorted(one.red_out_of.items(), key=lambda pair: pair[1]):
        kept = "clear" if red > 1 else "INSIDE"
        lines.append(f"Out of {name}: RED {red:.2f}, {kept}{' (nearest)' if name == one.nearest else ''}")
    return lines or ["Nothing within reach has a sphere known here."]


def full(all_of: Whole) -> str:
    """Parts, drying and safety of one blend, to read."""
    from kb.tui.screens.choose.ranking import full_safety

    blend, drying = all_of.blend, all_of.drying
    lines = [all_of.safety.defer, "", "Parts, % by volume"]
    names = drying.names if drying else {}
    lines += [f"- {percent:>3} %  {names.get(part, part)}" for part, percent in blend.parts_pct.items()]
    lines += ["", "Clearance", *_reach(blend)]
    lines += ["", "What is left on the sheet as it dries, % by volume of the rest"]
    lines += drying_lines(drying) if drying else [f"- {all_of.trouble}"]
    lines += ["", f"Fire: {blend.flash}.", f"Vapour: {blend.exposure}.", f"Mixing: {blend.mixing}."]
    # The note defers first as well; once, at the top, is read.
    note = full_safety(all_of.safety).removeprefix(all_of.safety.defer).strip()
    return "\n".join([*lines, "", "Safety, all parts together", note])


def drying_lines(drying: Drying) -> list[str]:
    """A line for each loss, then warnings and notes, and how it was reckoned."""
    lines = []
    for step in drying.steps:
        if any(abs(step.lost_pct - told) < 1e-6 for told in TOLD_AT):
            rest = ", ".join(
                f"{drying.names.get(part, part)} {share:.0f} %" for part, share in step.shares_pct.items()
            )
            when = "fresh" if step.lost_pct == 0 else f"{step.lost_pct:.0f} % gone"
            lines.append(f"- {when:<9} {rest}")
    lines.append(f"- gone in this order: {', '.join(drying.names.get(one, one) for one in drying.order)}")
    lines += [f"- WARNING: {text}" for text in drying.warnings]
    lines += [f"- {text}" for text in drying.notes]
    return [*lines, f"- At {drying.temp_c:g} °C. {drying.model}. {drying.source}."]


def left_out(found: Blends) -> str:
    """Liquids and pairs that were not combined, and liquids that do without mixing."""
    lines = ["Liquids that do by themselves"]
    for one in found.alone:
        clear = "" if one.margin is None else f", clearance {one.margin:+.2f} RED"
        lines.append(f"- {one.name}{clear}, hazard {one.hazard:.2f}")
    lines += ["- none"] if not found.alone else []
    lines += ["", "Pairs that are never combined"]
    lines += [f"- {pair.names[0]} and {pair.names[1]}: {pair.why}" for pair in found.parted] or ["- none"]
    lines += ["", "Left out"]
    lines += [f"- {one.name}: {one.why}" for one in found.left_out] or ["- none"]
    return "\n".join(lines)
