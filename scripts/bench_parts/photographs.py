"""A pair of photographs as cameras take them compared: time and memory, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from scripts.bench_parts.measure import Case, Result, side_by_side, spread
from scripts.bench_parts.stage import Stage

ROOT = Path(__file__).resolve().parents[2]
SWAB_PX = 140
PX_PER_MM = "40"
LIMIT_S, LIMIT_BYTES = 10.0, 1e9
MAKE = """
import sys, cv2, numpy as np
wide, high = map(int, sys.argv[2:4])
rng = np.random.default_rng(11)
paper = np.full((high, wide, 3), (208, 220, 226), np.int16)
small = rng.integers(-9, 10, (high // 8, wide // 8)).astype(np.float32)
paper += cv2.resize(small, (wide, high), interpolation=cv2.INTER_CUBIC)[..., None].astype(np.int16)
before = np.clip(paper, 0, 255).astype(np.uint8)
for y in range(90, high, 170):
    text = "".join(chr(97 + c) for c in rng.integers(0, 26, 190))
    cv2.putText(before, text, (int(rng.integers(-200, 0)), y), 3, 1.7, (70, 62, 58), 9, cv2.LINE_AA)
move = np.float32([[0.9997, 0.011, 14], [-0.011, 0.9997, 33]])
after = cv2.warpAffine(before, move, (wide, high), borderMode=cv2.BORDER_REFLECT)
for name, pixels in (("before", before), ("after", after)):
    grain = cv2.resize(rng.integers(-3, 4, (high // 2, wide // 2)).astype(np.float32), (wide, high))
    seen = np.clip(cv2.GaussianBlur(pixels, (0, 0), 1.2) + grain[..., None], 0, 255).astype(np.uint8)
    cv2.imwrite(sys.argv[1] + "/" + name + ".jpg", seen, [cv2.IMWRITE_JPEG_QUALITY, 94])
"""
"""Drawn here and not taken from the tests, whose pictures are small."""
MEASURED = """
import resource, sys, time
from pathlib import Path
from kb.desk.sheet.photo_compare import compare_files
begun, started = time.perf_counter(), time.process_time()
swab = tuple(map(float, sys.argv[3].split(",")))
found = compare_files(Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[4]), swab)
took, work = time.perf_counter() - begun, time.process_time() - started
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
print(took, work, peak, found.result.verdict)
"""


def comparing(stage: Stage) -> list[Result]:
    """Reading and comparing two JPEGs, with a verdict, or nothing was measured."""
    wide, high = stage.sizes.photographs
    swab = f"{wide * 9 // 20},{high * 41 // 80},{SWAB_PX}"
    folder = stage.folder / "photographs"
    folder.mkdir()
    _run(MAKE, str(folder), str(wide), str(high))
    seconds: list[float] = []
    worked: list[float] = []
    peaks: list[float] = []

    def once() -> float:
        files = (str(folder / f"{name}.jpg") for name in ("before", "after"))
        took, work, peak, verdict = _run(MEASURED, *files, swab, PX_PER_MM).split()
        if verdict == "cannot-tell":
            raise RuntimeError("the pair that is measured could not be compared")
        seconds.append(float(took))
        worked.append(float(work))
        peaks.append(float(peak))
        return seconds[-1]

    case: Case = once
    side_by_side({"pair": case}, min(stage.sizes.rebuilds, 3))
    name = f"a pair of {wide * high / 1e6:.0f} megapixels read and compared"
    return [
        Result(
            "photograph-time",
            name,
            spread(seconds),
            LIMIT_S,
            "s",
            {"of the processor": (spread(worked), "s")},
        ),
        Result("photograph-memory", f"{name}: resident memory", spread(peaks), LIMIT_BYTES, "B", {}),
    ]


def _run(program: str, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", program, *words], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return done.stdout
