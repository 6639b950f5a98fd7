"""How often the comparison of photographs is right, on made pairs that nobody looked at while building.

Every pair is judged once and kept as one line of a file, so that a run that was broken off goes on; the table
is drawn from that file. Nothing but this script uses the seeds it judges.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parents[1]
FIRST_SEED = 60_000
PAGE = ROOT / "docs" / "photographs.md"
BEGIN, END = "<!-- table: scripts/photo_table.py -->", "<!-- end of table -->"
BOX_BEYOND_MM = 1.2


class Cell(NamedTuple):
    """One line of the table: what was done to the paper, at which size, and how many pairs are made of it."""

    words: str
    case: str
    size: float
    pairs: int
    wanted: str


NOTHING, SOMETHING, UNKNOWN = "no-change", "possible-change", "cannot-tell"
CELLS = (
    Cell("nothing happened, shot again", "re-shot", 0.0, 60, NOTHING),
    Cell("old smudge in both", "old smudge", 0.0, 60, NOTHING),
    Cell("paper lightened only", "lightened", 0.0, 30, NOTHING),
    Cell("halo of 0.1 mm", "halo", 0.1, 12, SOMETHING),
    Cell("halo of 0.2 mm", "halo", 0.2, 60, SOMETHING),
    Cell("halo of 0.3 mm", "halo", 0.3, 30, SOMETHING),
    Cell("halo of 0.5 mm", "halo", 0.5, 12, SOMETHING),
    Cell("old smudge, then a halo of 0.3 mm", "old smudge and halo", 0.3, 12, SOMETHING),
    Cell("ink lost, 28-60 %", "loss", 0.0, 12, SOMETHING),
    Cell("smudged", "smudge", 0.0, 12, SOMETHING),
    Cell("stroke moved 0.4 mm", "shift", 0.4, 12, SOMETHING),
    Cell("tideline", "ring", 0.0, 12, SOMETHING),
    Cell("halo of 0.3 mm, swab marked 1 mm off", "swab marked off", 0.3, 12, SOMETHING),
    Cell("tape or gloss in before", "tape", 0.0, 12, UNKNOWN),
    Cell("tape in before, and a halo of 0.3 mm", "tape and halo", 0.3, 12, ""),
    Cell("glare over the swab", "glare", 0.0, 10, UNKNOWN),
    Cell("too dark", "dark", 0.0, 10, UNKNOWN),
    Cell("over-exposed", "over", 0.0, 10, UNKNOWN),
    Cell("another patch", "wrong patch", 0.0, 10, UNKNOWN),
    Cell("blurred", "blur", 0.0, 10, UNKNOWN),
    Cell("no ink", "no ink", 0.0, 10, UNKNOWN),
)
SCALES = {40.0: 1.0, 20.0: 0.3}
"""Pixels per mm, and the share of the pairs that are made at that scale."""


def judged(cell: Cell, scale: float, seed: int) -> dict[str, Any]:
    """One pair made and compared: the verdict, its reasons, and whether every box lies in the swab."""
    from kb.science.photo.compare import compare
    from kb.science.photo.given import Circle
    from tests.sheet.photo_pairs import pair

    made = pair(cell.case, scale, seed, cell.size)
    found = compare(made.before, made.after, scale, Circle(*made.swab))
    x, y, radius = made.swab
    reach = radius + BOX_BEYOND_MM * scale
    return {
        "case": cell.case,
        "size": cell.size,
        "scale": scale,
        "seed": seed,
        "verdict": found.verdict,
        "reasons": found.reasons,
        "kinds": [f"{box.kind} {box.score / box.threshold:.2f}" for box in found.boxes],
        "inside": all(
            x - reach <= box.x <= box.x + box.w <= x + reach
            and y - reach <= box.y <= box.y + box.h <= y + reach
            for box in found.boxes
        ),
        "smallest_mm": found.smallest_mm,
        "scores": {kind: round(z, 2) for kind, z in (found.figures.scores or {}).items()},
    }


def wanted(first_seed: int, share: float) -> Iterator[tuple[Cell, float, int]]:
    """All pairs of the table, dealt round so that a run that is broken off has its part of each line."""
    found = [
        ((number + 0.5) / (cell.pairs * part), cell, scale, first_seed + number)
        for scale, part in SCALES.items()
        for cell in CELLS
        for number in range(round(cell.pairs * share * part))
    ]
    for _, cell, scale, seed in sorted(found, key=lambda one: one[0]):
        yield cell, scale, seed


def table(lines: list[dict[str, Any]]) -> str:
    """The table in Markdown, false alarms and all."""
    rows = [
        "| what was done | px/mm | pairs | possible change | no change | cannot tell | as it should be |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for scale in SCALES:
        for cell in CELLS:
            here = [
                one
                for one in lines
                if (one["case"], one["size"], one["scale"]) == (cell.case, cell.size, scale)
            ]
            if not here:
                continue
            counts = {
                said: sum(one["verdict"] == said for one in here) for said in (SOMETHING, NOTHING, UNKNOWN)
            }
            right = f"{counts[cell.wanted] / len(here):.0%}" if cell.wanted else ""
            said = " | ".join(str(counts[one]) for one in (SOMETHING, NOTHING, UNKNOWN))
            rows.append(f"| {cell.words} | {scale:g} | {len(here)} | {said} | {right} |")
    placed = [one for one in lines if one["verdict"] == SOMETHING and one["case"] not in ("swab marked off",)]
    inside = sum(one["inside"] for one in placed)
    rows += [
        "",
        f"Boxes inside the swab and {BOX_BEYOND_MM:g} mm around it: {inside} of {len(placed)} pairs.",
    ]
    return "\n".join(rows)


def main() -> int:
    """Judge what is not judged yet, then draw the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path, help="where the judged pairs are kept, one a line")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--share", type=float, default=1.0, help="of the pairs of every line of the table")
    parser.add_argument("--only", default="", help="cases, with commas between")
    parser.add_argument("--page", action="store_true", help="put the table into docs/photographs.md")
    args = parser.parse_args()
    import cv2

    cv2.setNumThreads(1)
    lines = [json.loads(line) for line in args.file.open()] if args.file.exists() else []
    done = {(one["case"], one["size"], one["scale"], one["seed"]) for one in lines}
    with args.file.open("a") as stream:
        for cell, scale, seed in wanted(args.first_seed, args.share):
            if (cell.case, cell.size, scale, seed) in done or (
                args.only and cell.case not in args.only.split(",")
            ):
                continue
            lines.append(judged(cell, scale, seed))
            stream.write(json.dumps(lines[-1]) + "\n")
            stream.flush()
    drawn = table(lines)
    sys.stdout.write(drawn + "\n")
    if args.page:
        head, _, rest = PAGE.read_text().partition(BEGIN)
        PAGE.write_text(f"{head}{BEGIN}\n\n{drawn}\n\n{END}{rest.partition(END)[2]}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
