"""What is breathed: first the gist with its gauges and curve, then all figures. No widgets."""

from __future__ import annotations

from textual.content import Content

from kb.desk.air.answer import FACE, ROOM, Air, AirLine, Gist, cut_off, gist, over_time
from kb.desk.canvas import AXIS, gauge
from kb.tui.drawing import CALM, MIND, STOP, drawn, labelled

ROWS = 9
WIDEST = 90
"""Cells that a curve uses at most."""
LABEL = 14
BAR = 22
COLOURS = {FACE: "$error", ROOM: "$primary", AXIS: "$secondary"}


def verdict(air: Air, usual: str = "") -> str:
    """How it stands against the list whose limit is met first, with the doubt in words.

    ``usual``: what it was reckoned with that nobody typed.
    """
    told = gist(air)
    others = f" {told.others} other lists below." if told.others > 1 else ""
    shows = " ^O shows the limit and its list." if told.tier == "not judged" and told.authority else ""
    return f"{' '.join(filter(None, (told.so, usual, told.verdict)))}{shows}{others}"


def tier(air: Air) -> str:
    """How it stands in one word of the desk, for the colour of what is said."""
    return gist(air).tier


def seen_first(air: Air, width: int) -> list[Content]:
    """Gauges, what would do, what to mind, and the curve."""
    told = gist(air)
    return [*_gauges(told, width), *_ways(told, width), *_curve(air, width)]


def _gauges(told: Gist, width: int) -> list[Content]:
    colours = {"over": STOP, "above action level": MIND}.get(told.tier, CALM)
    lines = []
    beside = width >= LABEL + BAR + 28
    for one in told.bars:
        bar = drawn([gauge(one.low, one.high, BAR)], colours)
        head = Content.styled(f"{one.label:<{LABEL}}", "$secondary") + bar
        if beside:
            lines.append(head + Content(f" {one.words}"))
        else:
            lines += [head, Content(f"{'':<{LABEL}}{one.words}")]
    if told.bars:
        lines += labelled("", f"┃ the {told.authority} limit   ╍ from the room to your face", LABEL, width)
    return [*lines, Content("")]


def _ways(told: Gist, width: int) -> list[Content]:
    lines = [Content.styled("What would do", "bold")] if told.do else []
    for label, words in told.do:
        lines += labelled(label, words, LABEL, width)
    lines += [Content("")] if told.do else []
    for label, words in told.mind:
        lines += labelled(f"▲ {label}", words, LABEL, width)
    return [*lines, Content("")]


def _curve(air: Air, width: int) -> list[Content]:
    canvas = over_time(air.series, "mg/m3", min(width, WIDEST), ROWS)
    if canvas is None:
        return [Content("nothing in the air"), Content("")]
    key = Content.assemble(
        ("In the air over time", "bold"),
        "   ",
        ("•", COLOURS[FACE]),
        " at your face (higher)   ",
        ("•", COLOURS[ROOM]),
        " in the room",
    )
    cut = labelled("", words, 0, width) if (words := cut_off(air)) else []
    return [key, drawn(canvas.runs(), COLOURS), *cut, Content("")]


def results(air: Air) -> list[tuple[str, list[str]]]:
    """All figures with unit, by heading; models and sources last."""
    return [
        *(
            (
                f"Against the {one.authority} limits",
                [
                    *(f"- {each.text}" for each in one.lines),
                    *(
                        line
                        for share in one.shares
                        for line in (f"- {share.text}", f"  limit: {share.limit}")
                    ),
                ],
            )
            for one in air.under
        ),
        ("Fire", [f"- {each.text}" for each in air.fire]),
        ("Fresh air needed", [f"- {each.text}" for each in air.ventilation]),
        *(
            (f"{part.name}, {part.share_pct:.0f} % by volume", [f"- {each.text}" for each in part.lines])
            for part in air.parts
        ),
        ("Taken as", [f"- {air.use}, for {air.hours:g} h at {air.temp_c:g} °C", f"- {air.room}"]),
        ("Notes", [f"- {note}" for note in air.notes]),
        ("Models and sources", models(air)),
    ]


def models(air: Air) -> list[str]:
    """Every model once, with its source."""
    every: list[AirLine] = [each for part in air.parts for each in part.lines]
    every += [each for one in air.under for each in one.lines]
    every += [*air.fire, *air.ventilation]
    pairs = dict.fromkeys((each.model, each.source) for each in every if each.model != "none")
    return [f"- {model} ({source})" for model, source in pairs]
