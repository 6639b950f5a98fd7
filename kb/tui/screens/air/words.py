"""What is breathed, laid out in words and as a plot in text. No widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.desk.air.air import Air
    from kb.desk.air.answer import AirLine

ROWS = 9
WIDEST = 90
"""Cells that a plot uses at most."""


def verdict(air: Air) -> str:
    """The gist: how it stands under each authority, with the doubt in words."""
    said = [one.verdict for one in air.under] or ["No limit known here for any part: not judged."]
    return " ".join(said)


def results(air: Air, width: int) -> str:
    """All figures with unit; the gist first, models and sources last."""
    from kb.desk.air.text import plot

    lines: list[str] = []
    for one in air.under:
        lines += [f"Against the {one.authority} limits", *(f"- {each.text}" for each in one.lines)]
        lines += [f"- {share.text}" for share in one.shares]
        lines += [f"  limit: {share.limit}" for share in one.shares]
        lines.append("")
    lines += ["Fire", *(f"- {each.text}" for each in air.fire)]
    lines += ["", "Fresh air needed", *(f"- {each.text}" for each in air.ventilation)]
    lines += [
        "",
        f"Over time ({air.series_unit})",
        *(plot(air.series, min(width, WIDEST), ROWS) or ("nothing in the air",)),
    ]
    for part in air.parts:
        lines += [
            "",
            f"{part.name}, {part.share_pct:.0f} % by volume",
            *(f"- {each.text}" for each in part.lines),
        ]
    lines += ["", "Taken as", f"- {air.use}, for {air.hours:g} h at {air.temp_c:g} °C", f"- {air.room}"]
    lines += ["", "Notes", *(f"- {note}" for note in air.notes)]
    return "\n".join([*lines, "", "Models and sources", *models(air)])


def models(air: Air) -> list[str]:
    """Every model once, with its source."""
    every: list[AirLine] = [each for part in air.parts for each in part.lines]
    every += [each for one in air.under for each in one.lines]
    every += [*air.fire, *air.ventilation]
    pairs = dict.fromkeys((each.model, each.source) for each in every if each.model != "none")
    return [f"- {model} ({source})" for model, source in pairs]
