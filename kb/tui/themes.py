"""The looks to choose from. All are readable; none carries a meaning by colour alone.

``text-disabled`` is the colour of hints in empty lines: the library's own is too pale to be read.
"""

from __future__ import annotations

from textual.theme import Theme

PAPER = Theme(
    name="paper",
    primary="#2f5566",
    secondary="#6a5740",
    accent="#8a4526",
    warning="#7d5200",
    error="#94281f",
    success="#33603a",
    foreground="#26221c",
    background="#f5f0e4",
    surface="#faf6ec",
    panel="#e9e1cf",
    dark=False,
    variables={
        "block-cursor-foreground": "#fdfbf5",
        "block-cursor-background": "#2f5566",
        "block-cursor-blurred-foreground": "#26221c",
        "block-cursor-blurred-background": "#d9cfb8",
        "footer-background": "#e9e1cf",
        "footer-key-foreground": "#8a4526",
        "text-disabled": "#5d564c",
    },
)
LIGHT = Theme(
    name="light",
    primary="#004d7a",
    secondary="#4a4a4a",
    accent="#7a3b00",
    warning="#6e4a00",
    error="#a01010",
    success="#1c5c2a",
    foreground="#111111",
    background="#ffffff",
    surface="#f6f6f6",
    panel="#e6e6e6",
    dark=False,
    variables={
        "block-cursor-foreground": "#ffffff",
        "block-cursor-blurred-foreground": "#111111",
        "block-cursor-blurred-background": "#d0d7dc",
        "footer-key-foreground": "#004d7a",
        "text-disabled": "#555555",
    },
)
LAMP = Theme(
    name="lamp",
    primary="#9fc3cf",
    secondary="#c2b08f",
    accent="#e0a37e",
    warning="#e3b45c",
    error="#ec8f84",
    success="#9cc79f",
    foreground="#ece5d6",
    background="#1d1b18",
    surface="#262320",
    panel="#33302b",
    dark=True,
    variables={
        "block-cursor-foreground": "#1d1b18",
        "block-cursor-blurred-foreground": "#ece5d6",
        "block-cursor-blurred-background": "#4a4640",
        "footer-key-foreground": "#e0a37e",
        "text-disabled": "#b5afa3",
    },
)
CONTRAST = Theme(
    name="high-contrast",
    primary="#ffff00",
    secondary="#ffffff",
    accent="#00ffff",
    warning="#ffff00",
    error="#ff9090",
    success="#90ff90",
    foreground="#ffffff",
    background="#000000",
    # Lines to type in are lighter than what is round them: on black alone nobody sees where they are.
    surface="#1f1f1f",
    panel="#383838",
    dark=True,
    luminosity_spread=0.0,
    text_alpha=1.0,
    variables={
        "text": "#ffffff",
        "text-muted": "#ffffff",
        "text-disabled": "#d0d0d0",
        "border": "#ffffff",
        "border-blurred": "#ffffff",
        "block-cursor-foreground": "#000000",
        "block-cursor-background": "#ffff00",
        "block-cursor-blurred-foreground": "#ffffff",
        "block-cursor-blurred-background": "#404040",
        "footer-background": "#000000",
        "footer-key-foreground": "#ffff00",
        "footer-description-foreground": "#ffffff",
    },
)
THEMES = (PAPER, LIGHT, LAMP, CONTRAST)
DEFAULT = PAPER.name
