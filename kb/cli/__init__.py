"""The command line: one file per noun.

Loading is most of what a short answer takes, so what its libraries load in vain does not come with them.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from importlib import import_module
from types import ModuleType


class Later(ModuleType):
    """Stands for a module until something of it is asked for, which hardly ever happens."""

    def __getattr__(self, name: str) -> object:
        # Whoever imports asks for these of the stand-in itself.
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(import_module(self.__name__), name)


class _Quoting(Later):
    """All that paths take from the module of addresses, for a method that nothing here calls."""

    def quote_from_bytes(self, *given: bytes) -> object:
        return Later.__getattr__(self, "quote_from_bytes")(*given)  # type: ignore[operator]


class _English(Later):
    """What the reader of options asks a translation for, which this program has none of."""

    @staticmethod
    def gettext(text: str) -> str:
        return text

    @staticmethod
    def ngettext(one: str, many: str, count: int) -> str:
        return one if count == 1 else many


def load(name: str, stands_in: Mapping[str, ModuleType | None]) -> None:
    """Load a module with others in place of what it loads in vain; whoever asks for these later gets them."""
    if name not in sys.modules:
        mine = {one: sys.modules.setdefault(one, it) for one, it in stands_in.items()}  # type: ignore[arg-type]
        import_module(name)
        for one, it in stands_in.items():
            if mine[one] is it:
                del sys.modules[one]


load("pathlib", {"urllib.parse": _Quoting("urllib.parse"), "ntpath": Later("ntpath")})
load("argparse", {"gettext": _English("gettext")})
