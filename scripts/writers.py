"""Eight writers, some of them killed, while the index is made anew and questions are asked: nothing is lost.

    python scripts/writers.py --seconds 120

Each writer prints an id only after its record is on disk. At the end every printed id must be in the book,
and the book must be whole. Prints what was acknowledged, lost, and how long questions took: by the wall,
and of the processor, for a machine that does other work meanwhile makes them wait.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
if __name__ == "__main__":
    sys.path[0] = str(ROOT)

from kb.book.read import read_file  # noqa: E402
from kb.book.verify import verify  # noqa: E402
from kb.desk.choose.choose import choose  # noqa: E402
from kb.desk.studio import Studio  # noqa: E402
from kb.model.question import Question  # noqa: E402

WRITERS = 8
KILLED_SHARE = 0.2
WRITER = """
import sys
from pathlib import Path
from kb.book.append import append
body = {"parts": {"acetone": 1.0}, "adhesive": "natural-rubber-resin", "release": 2, "harm": {"bleed": 1}}
while True:
    line = append(Path(sys.argv[1]), bench=sys.argv[2], who="w", kind="test", body=body)
    sys.stdout.write(line.id + "\\n")
    sys.stdout.flush()
"""
REBUILDER = """
import subprocess, sys
while True:
    subprocess.run([sys.executable, "-m", "kb", "rebuild", "--studio", sys.argv[1]], capture_output=True)
"""
ASKED = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")


def main(arguments: list[str]) -> int:
    """Write, kill, rebuild and ask for some time; 1 if an acknowledged record is not there."""
    parser = argparse.ArgumentParser(description="Writers, kills, rebuilds and questions at once.")
    parser.add_argument("--seconds", type=float, default=120)
    args = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="benchleaf-writers-") as folder:
        os.environ["XDG_CACHE_HOME"] = folder
        return _run(Path(folder), args.seconds)


def _run(folder: Path, seconds: float) -> int:
    studio = Studio(folder / "studio")
    studio.make()
    choose(studio, ASKED)
    studio.close()
    chance, outputs, killed = random.Random(1), list[Path](), 0

    def begin(number: int) -> subprocess.Popen[bytes]:
        outputs.append(folder / f"ids-{len(outputs)}")
        words = [sys.executable, "-c", WRITER, str(studio.book_dir), f"bench-{number % 4}"]
        with outputs[-1].open("wb") as out:
            return subprocess.Popen(words, cwd=ROOT, stdout=out)

    writers = [begin(number) for number in range(WRITERS)]
    rebuilder = subprocess.Popen([sys.executable, "-c", REBUILDER, str(studio.root)], cwd=ROOT)
    took_s, worked_s, end = list[float](), list[float](), time.monotonic() + seconds
    try:
        while time.monotonic() < end:
            started, worked = time.monotonic(), time.process_time()
            choose(studio, ASKED)
            studio.refresh()
            took_s.append(time.monotonic() - started)
            worked_s.append(time.process_time() - worked)
            if chance.random() < KILLED_SHARE:
                number = chance.randrange(WRITERS)
                writers[number].send_signal(signal.SIGKILL)
                writers[number].wait()
                writers[number] = begin(number)
                killed += 1
    finally:
        for process in (*writers, rebuilder):
            process.kill()
            process.wait()
    studio.close()
    acknowledged = {line for path in outputs for line in path.read_text().split("\n") if len(line) == 26}
    there = {
        read.line.id for path in studio.book_dir.glob("*.jsonl") for read in read_file(path) if read.line
    }
    lost = acknowledged - there
    # What a killed writer left half written was never acknowledged, and the next record goes behind it.
    broken = [one for one in verify(studio.book_dir) if one.severity == "error" and one.kind != "torn"]
    print(f"{len(acknowledged):,} acknowledged, {killed} writers killed, {len(lost)} lost")
    print(f"{len(broken)} faults in the book")
    print(f"{len(took_s):,} questions, {_spread(took_s)}; of the processor {_spread(worked_s)}")
    return int(bool(lost or broken))


def _spread(seconds: list[float]) -> str:
    ranked = sorted(seconds)
    return f"p50 {ranked[len(ranked) // 2]:.3f} s, p99 {ranked[round(0.99 * (len(ranked) - 1))]:.3f} s"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
