"""What a run found, in words and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from scripts.bench_parts.measure import Curve, Result, Spread


def as_text(about: dict[str, str], results: Sequence[Result], curves: Sequence[Curve], *, quick: bool) -> str:
    """The report as it is printed: one line per budget, under it the figures behind it, then the growth."""
    lines = [f"{name + ':':<10}{words}" for name, words in about.items()]
    if quick:
        lines.append("quick run: shows that everything runs; its figures say nothing")
    lines += ["", "median (quartiles); a ratio is taken in each round, in which both sides took turns", ""]
    for one in results:
        lines.append(f"{'within' if one.within else 'MISSED'}  {one.name}")
        lines.append(f"          {shown(one.value, one.unit)}, {allowed(one)}")
        lines += [f"            {name}: {shown(value, unit)}" for name, (value, unit) in one.parts.items()]
        if one.note:
            lines.append(f"            {one.note}")
    budgets = [one for one in results if one.budget is not None]
    lines += ["", f"{sum(one.within for one in budgets)} of {len(budgets)} budgets kept"]
    if curves:
        lines += ["", "growth with the number of own tests (medians)", ""]
        rows = growth_rows(curves)
        first, *widths = (max(map(len, column)) for column in zip(*rows, strict=True))
        for name, *cells in rows:
            columns = [cell.rjust(width) for cell, width in zip(cells, widths, strict=True)]
            lines.append("  ".join([name.ljust(first), *columns]))
    return "\n".join(lines)


def growth_rows(curves: Sequence[Curve]) -> list[list[str]]:
    """A table, its first row the head: what, the median at each length, and the last against the first."""
    lengths = sorted({length for one in curves for length in one.points})
    rows = [["", *(f"{length:,}" for length in lengths), "last : first"]]
    for one in curves:
        middles = {length: value.middle for length, value in one.points.items()}
        cells = [figure(middles[n], one.unit) if n in middles else "-" for n in lengths]
        rows.append([one.name, *cells, f"{middles[max(middles)] / middles[min(middles)]:.3g}"])
    return rows


def as_json(
    about: dict[str, str], results: Sequence[Result], curves: Sequence[Curve], *, quick: bool
) -> dict[str, object]:
    """The same for a program: seconds, bytes or plain ratios."""
    return {
        **about,
        "quick": quick,
        "results": [
            {
                "name": one.name,
                "value": one.value._asdict(),
                "unit": one.unit or "ratio",
                "budget": one.budget,
                "within": one.within,
                "note": one.note,
                "parts": {n: {**value._asdict(), "unit": unit} for n, (value, unit) in one.parts.items()},
            }
            for one in results
        ],
        "curves": [
            {
                "panel": one.panel,
                "name": one.name,
                "unit": one.unit,
                "points": {str(length): value._asdict() for length, value in one.points.items()},
            }
            for one in curves
        ],
    }


def shown(value: Spread, unit: str) -> str:
    """A median with its quartiles, in a unit that fits it."""
    return f"{figure(value.middle, unit)} ({figure(value.low, unit)} to {figure(value.high, unit)})"


def allowed(one: Result) -> str:
    """The budget in words."""
    return "no budget" if one.budget is None else f"at most {figure(one.budget, one.unit)}"


def figure(value: float, unit: str) -> str:
    """Seconds, bytes (decimal, as disks are sold) or a ratio, with three figures that count."""
    if unit == "s":
        return f"{value:.3g} s" if value >= 1 else f"{value * 1000:.3g} ms"
    if unit == "B":
        return f"{value / 1e6:.3g} MB" if value < 1e9 else f"{value / 1e9:.3g} GB"
    return f"{value:.2f} x"
