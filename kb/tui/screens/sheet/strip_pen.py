"""Drawing a strip on a face by keys: a corner, then the corner across from it."""

from __future__ import annotations

STEP_MM, FINE_MM = 5.0, 1.0
SHARE = 0.1
"""Where the pen starts, and how large the strip is at first, as a part of the sheet."""
MOVES = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}


class StripPen:
    """Where the pen is, in mm from the left and top edges of the face as one looks at it."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.size = width_mm, height_mm
        self.face = "front"
        self.weak = ""
        self.corner: tuple[float, float] | None = None
        self.at = STEP_MM * round(SHARE * width_mm / STEP_MM), STEP_MM * round(SHARE * height_mm / STEP_MM)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of what would be stored; a dot before the first corner is set."""
        x, y = self.at
        if self.corner is None:
            return x, y, x, y
        a, b = self.corner
        return min(a, x), min(b, y), max(a, x), max(b, y)

    @property
    def words(self) -> str:
        """Where one is and what comes next."""
        left, top, right, bottom = self.box
        what = f"weak zone ({self.weak})" if self.weak else "strip"
        if self.corner is None:
            return (
                f"{what}, {self.face}: {left:g}, {top:g} mm. Arrows 5 mm, Shift 1; Enter: corner; Tab turns"
            )
        return (
            f"{what}, {self.face}: {right - left:g} x {bottom - top:g} mm at {left:g}, {top:g}. "
            "Enter stores it; W weak; Esc"
        )

    def strip(self) -> dict[str, str]:
        """The strip as words of its record."""
        left, top, right, bottom = self.box
        return {
            "face": self.face,
            "at": f"{left:g}, {top:g}",
            "size": f"{right - left:g} x {bottom - top:g} mm",
            "weak": self.weak,
        }

    def key(self, key: str) -> bool | None:
        """None: not for the pen. True: the strip is ready to be stored."""
        name = key.removeprefix("shift+")
        if name in MOVES:
            step = FINE_MM if key != name else STEP_MM
            self.at = (
                min(max(0.0, self.at[0] + step * MOVES[name][0]), self.size[0]),
                min(max(0.0, self.at[1] + step * MOVES[name][1]), self.size[1]),
            )
            return False
        if key == "tab" and self.corner is None:
            self.face = "back" if self.face == "front" else "front"
            return False
        if key == "w":
            kinds = ("", "fold", "tear", "loss", "friable media")
            self.weak = kinds[(kinds.index(self.weak) + 1) % len(kinds)]
            return False
        if key == "enter":
            left, top, right, bottom = self.box
            if self.corner is not None:
                return right > left and bottom > top
            self.corner = self.at
            return False
        return None
