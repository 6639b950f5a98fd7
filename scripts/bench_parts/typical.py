"""One usual command of every word, and more where a word does different things. All on the demo studio."""

from __future__ import annotations

from pathlib import Path

QUESTION = (
    *("--adhesive", "natural rubber", "--stage", "oily"),
    *("--medium", "letterpress", "--paper", "wood pulp"),
)
ALOUD = ("--blend", "acetone 50, n-heptane 50")

TYPICAL: dict[str, tuple[str, ...]] = {
    "choose": QUESTION,
    "identify": ("--sign", "gloss=glossy", "--sign", "stretch=no"),
    "find": ("celofane tap yelow",),
    "show": ("liquid", "acetone"),
    "test list": (),
    "book list": (),
    "mend list": (),
    "crumb list": (),
    "tone list": (),
    "frame list": (),
    "safety": ("propan-2-ol",),
    "blend": ("--adhesive", "natural-rubber", "--medium", "letterpress"),
    "dry": ALOUD,
    "map": ("--adhesive", "natural-rubber", "--medium", "letterpress"),
    "sphere": ("natural rubber",),
    "air": ("--liquid", "acetone", "--amount", "2ml", "--room", "60m3", "--air-changes", "2"),
    "shelf": (),
    "cautions": ("--medium", "iron gall ink"),
    "sources": (),
    "compare": ("liquid", "acetone", "butanone"),
    "liquids": ("--evaporation", "slow"),
    "recipe": ("wheat starch paste", "--make", "120 ml"),
    "batch list": (),
    "dilute stock": ("10 % w/v", "2 % w/v", "--total", "200 ml"),
    "bath": ("--reagent", "calcium-hydroxide", "--volume", "5 L", "--target-ph", "8"),
    "wash plan": ("--medium", "letterpress", "--paper", "wood-pulp"),
    "wash list": (),
    "tissue": ("--grammage", "100 g/m2", "--length", "120 mm"),
    "infill": ("88 1 12", "86 2 14"),
    "press": ("wash",),
    "plan": ("QN-M1 mock-up, new clear tape",),
    "sheet list": (),
    "report": ("QN-M1 mock-up, new clear tape",),
    "label": (),
    "open": ("01M7MXFPP0WTE8730M0X6MD3DT",),
    "condition list": ("QN-M1 mock-up, new clear tape",),
    "photo list": (),
    "strip list": ("QN-M1 mock-up, new clear tape",),
    "house": ("--size", "420 x 594 mm", "--grammage", "100 g/m2"),
    "pool list": (),
    "stock list": (),
}
"""Answers: by word (and what is done), the arguments that follow."""
WRITING: dict[str, tuple[str, ...]] = {
    "test add": (*QUESTION, "--liquid", "n-heptane", "--dwell", "30s", "--release", "3", "--harm", "bleed=0"),
    "mend add": ("Tide table", "--new-sheet", "--tear", "plain", "--length", "30 mm"),
}
"""Each adds a record, which the next command takes into the index."""
TAPED = Path(__file__).parents[2] / "docs" / "examples" / "taped-sheet.yaml"
PHOTOGRAPH = TAPED.with_name("swabbed-patch.jpg")
PAIR = ("--before", str(PHOTOGRAPH), "--after", str(PHOTOGRAPH), "--px-per-mm", "20", "--swab", "240,180,70")
"""A made photograph against itself."""
WHOLE: dict[str, tuple[str, ...]] = {
    "check": ("--summary",),
    "verify": (),
    "rebuild": (),
    "own list": (),
    "patch plan": ("--file", str(TAPED)),
    "photo compare": PAIR,
}
"""These read everything anew, or need libraries of areas and of pictures; they are work and no answers."""
ONCE: dict[str, tuple[str, ...]] = {
    "export": ("package",),
    "import": ("package", "--dry-run"),
    "backup": ("copies",),
}
"""These write folders; they are not timed. Paths count from the working folder."""


def command(name: str) -> list[str]:
    """One of these commands, without the program's own name and without a studio."""
    every = {**TYPICAL, **WRITING, **WHOLE, **ONCE}
    return [*name.split(), *every[name]]
