"""Figures that carry where they come from, for use inside formulas.

``seen`` is True only where the figure was read in the source named. Ids are those of data/sources where
an entry of that id exists; ``memory``, ``common-practice``, ``computed`` and ``project`` mean just that.
"""

from typing import NamedTuple

from kb.science.numbers import above_zero, zero_or_more


class Known(NamedTuple):
    """One figure, its source, and whether it was read there."""

    value: float
    source: str
    seen: bool
    note: str = ""


class Span(NamedTuple):
    """A range of figures, its source, and whether it was read there."""

    low: float
    high: float
    source: str
    seen: bool
    note: str = ""


SOURCES: dict[str, str] = {
    "handbook-sol": "Calcium hydroxide solubility, handbook series as repeated on a general web page",
    "pb1982": (
        "Plummer L.N., Busenberg E. (1982) The solubilities of calcite, aragonite and vaterite in CO2-H2O "
        "solutions between 0 and 90 C. Geochim. Cosmochim. Acta 46, 1011-1040. Paper not read; "
        "coefficients read in the text of a speciation database that cites it"
    ),
    "pdb": "Text of the databases shipped with phreeqpython 1.6.2 (phreeqc.dat, wateq4f, pitzer.dat)",
    "kf1978": (
        "Kelly G.B., Fowler S. (1978) Penetration and placement of alkaline compounds in "
        "solution-deacidified paper. JAIC 17(2), 33-43. Read in part"
    ),
    "astm4988": "ASTM D4988-96(2006), scope and significance, catalogue page",
    "loc-perm": "Library of Congress, Final Report to Congress on permanent papers, Appendix 3",
    "re1982": "Roberts M.T., Etherington D. (1982) Bookbinding and the conservation of books: a dictionary",
    "t553": "TAPPI T 553, alkaline reserve, method summary page of a test laboratory",
    "bookrepair": "Weblog on book repair, tears",
    "memory": "Handbook knowledge quoted from memory",
    "common-practice": "Common practice of the trade, no source",
    "computed": "Arithmetic on other figures here",
    "project": "A choice of this project, not a measurement",
}
"""What the ids of this package stand for."""


def need_positive(**values: float) -> None:
    """Raise ValueError naming the first value that is not a finite number above zero."""
    for name, value in values.items():
        above_zero(value, name)


def need_not_negative(**values: float) -> None:
    """Raise ValueError naming the first value that is not a finite number of zero or more."""
    for name, value in values.items():
        zero_or_more(value, name)
