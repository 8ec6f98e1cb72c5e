"""Every colour of the screen, by the role that it plays.

Rule 1: what is normal is quiet; colour means that something is not.
Rule 2: no colour stands alone: `marks.py` gives each state its own mark and word.
Rule 3: every pair of colours that can meet has a contrast of at least 4.5:1, the level AA of
        WCAG 2.2 (success criterion 1.4.3); a test computes them all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rich.style import Style
from textual.theme import Theme

LEAST_CONTRAST: Final = 4.5

ROLES: Final = (
    "plain",
    "quiet",
    "strong",
    "head",
    "band",
    "key",
    "gauge",
    "outside",
    "doubt",
    "off",
    "low",
    "medium",
    "high",
    "highest",
    "low-new",
    "medium-new",
    "high-new",
    "highest-new",
    "banner",
    "now",
    "curve",
    "curve-2",
    "limit",
)


@dataclass(frozen=True, slots=True)
class Pigment:
    """How one role is drawn."""

    ink: str | None = None
    ground: str | None = None
    """None: the screen's own ground, or the choice's where the row is chosen."""
    bold: bool = False
    reverse: bool = False
    underline: bool = False
    italic: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """One set of colours."""

    name: str
    label: str
    dark: bool
    ground: str | None
    chosen: str | None
    """Ground of the row that the cursor is on."""
    pigments: Mapping[str, Pigment]

    def ink_of(self, role: str) -> str | None:
        """Return the colour of a role's letters."""
        return self.pigments[role].ink


def _palette(
    name: str, label: str, grounds: tuple[str, str], inks: Mapping[str, str], *, dark: bool
) -> Palette:
    """Build a palette of full colours from its grounds and inks."""
    deep = inks["deep"]
    pigments = {
        "plain": Pigment(inks["plain"]),
        "quiet": Pigment(inks["quiet"]),
        "strong": Pigment(inks["strong"], bold=True),
        "head": Pigment(inks["quiet"], underline=True),
        "band": Pigment(inks["strong"], inks["band"]),
        "key": Pigment(inks["strong"], bold=True),
        "gauge": Pigment(inks["quiet"]),
        "outside": Pigment(inks["medium"], bold=True),
        "doubt": Pigment(inks["doubt"], italic=True),
        "off": Pigment(inks["quiet"], italic=True),
        "curve": Pigment(inks["low"]),
        "curve-2": Pigment(inks["doubt"]),
        "limit": Pigment(inks["medium"]),
        "banner": Pigment(deep, inks["highest"], bold=True),
        "now": Pigment(deep, inks["strong"], bold=True),
    }
    for priority in ("low", "medium", "high", "highest"):
        pigments[priority] = Pigment(inks[priority], bold=priority != "low")
        pigments[f"{priority}-new"] = Pigment(deep, inks[priority], bold=True)
    return Palette(
        name=name,
        label=label,
        dark=dark,
        ground=grounds[0],
        chosen=grounds[1],
        pigments=pigments,
    )


NIGHT: Final = _palette(
    "night",
    "dark",
    ("#14181b", "#26323a"),
    {
        "plain": "#c3cacf",
        "quiet": "#98a3aa",
        "strong": "#f0f3f4",
        "band": "#2b363d",
        "low": "#7cc4ff",
        "medium": "#f2cf4a",
        "high": "#ff9d4d",
        "highest": "#ff8078",
        "doubt": "#d3a4f2",
        "deep": "#0b0e10",
    },
    dark=True,
)
DAY: Final = _palette(
    "day",
    "light",
    ("#f3f2ee", "#dcdfe0"),
    {
        "plain": "#2b3236",
        "quiet": "#4c575d",
        "strong": "#0c1012",
        "band": "#d3d8da",
        "low": "#004a86",
        "medium": "#6a4b00",
        "high": "#8a3500",
        "highest": "#a3000f",
        "doubt": "#66258f",
        "deep": "#fbfaf7",
    },
    dark=False,
)
STARK: Final = _palette(
    "stark",
    "high contrast",
    ("#000000", "#003a5c"),
    {
        "plain": "#ffffff",
        "quiet": "#d8d8d8",
        "strong": "#ffffff",
        "band": "#303030",
        "low": "#8fd3ff",
        "medium": "#ffe600",
        "high": "#ffb060",
        "highest": "#ffa5a0",
        "doubt": "#f0c0ff",
        "deep": "#000000",
    },
    dark=True,
)

PLAINEST: Final = Palette(
    name="plainest",
    label="no colour",
    dark=True,
    ground=None,
    chosen=None,
    pigments={
        role: Pigment(
            bold=role in {"strong", "key", "high", "highest", "outside", "medium", "band"},
            reverse=role.endswith("-new") or role in {"banner", "now"},
            underline=role in {"head", "band"},
        )
        for role in ROLES
    },
)
"""Bold, underline and reverse only: NO_COLOR, and terminals without colours."""

SIXTEEN: Final = Palette(
    name="sixteen",
    label="16 colours",
    dark=True,
    ground="black",
    chosen="blue",
    pigments={
        "plain": Pigment("white"),
        "quiet": Pigment("white"),
        "strong": Pigment("bright_white", bold=True),
        "head": Pigment("white", underline=True),
        "band": Pigment("black", "white"),
        "key": Pigment("bright_white", bold=True),
        "gauge": Pigment("white"),
        "outside": Pigment("bright_yellow", bold=True),
        "doubt": Pigment("bright_magenta"),
        "off": Pigment("white"),
        "low": Pigment("bright_cyan"),
        "medium": Pigment("bright_yellow", bold=True),
        "high": Pigment("bright_yellow", bold=True),
        "highest": Pigment("bright_white", "red", bold=True),
        "low-new": Pigment("black", "cyan"),
        "medium-new": Pigment("black", "yellow"),
        "high-new": Pigment("black", "yellow"),
        "highest-new": Pigment("bright_white", "red", bold=True),
        "banner": Pigment("bright_white", "red", bold=True),
        "now": Pigment("black", "white"),
        "curve": Pigment("bright_cyan"),
        "curve-2": Pigment("bright_magenta"),
        "limit": Pigment("bright_yellow"),
    },
)
"""The terminal decides what its sixteen colours look like; the marks carry the meaning."""

THEMES: Final[tuple[Palette, ...]] = (NIGHT, DAY, STARK)
PALETTES: Final[dict[str, Palette]] = {each.name: each for each in (*THEMES, PLAINEST, SIXTEEN)}


@lru_cache(maxsize=512)
def style(palette_name: str, role: str, *, chosen: bool = False) -> Style:
    """Return the style of a role in a palette, on an ordinary row or on the chosen one."""
    palette = PALETTES[palette_name]
    pigment = palette.pigments.get(role) or palette.pigments["plain"]
    ground = pigment.ground or (palette.chosen if chosen else palette.ground)
    # Without colours the cursor's row is underlined: reversed it would outshout an alarm.
    is_underlined = pigment.underline or (chosen and palette.chosen is None)
    return Style(
        color=pigment.ink,
        bgcolor=ground,
        bold=pigment.bold or None,
        reverse=pigment.reverse or None,
        underline=is_underlined or None,
        italic=pigment.italic or None,
    )


def _ansi_theme(palette: Palette) -> Theme:
    """Return a theme in the terminal's own colours; without colours nothing but its default."""
    ink, ground = "ansi_default", "ansi_default"
    if palette.ground is not None:
        ink, ground = "ansi_white", "ansi_black"
    names = ("primary", "secondary", "warning", "error", "success", "accent")
    return Theme(
        name=palette.name,
        ansi=True,
        **dict.fromkeys(names, ink),  # type: ignore[arg-type]
        foreground=ink,
        background=ground,
        surface=ground,
        panel=ground,
        boost=ground,
        dark=True,
        variables={
            "ansi-background": ground,
            "ansi-foreground": ink,
            "border-blurred": ink,
            "block-cursor-foreground": ink,
            "block-cursor-background": ground,
            "input-cursor-background": ground,
            "input-cursor-foreground": ink,
            "input-cursor-text-style": "reverse",
            "input-selection-background": ground,
            "input-selection-foreground": ink,
            "screen-selection-background": ground,
            "screen-selection-foreground": ink,
        },
    )


def theme(palette: Palette) -> Theme:
    """Return the toolkit's theme for the widgets that are not ours: inputs and the palette."""
    if palette.ground is None or palette == SIXTEEN:
        return _ansi_theme(palette)
    pigments = palette.pigments
    return Theme(
        name=palette.name,
        primary=pigments["low"].ink or "",
        secondary=pigments["quiet"].ink,
        accent=pigments["strong"].ink,
        foreground=pigments["plain"].ink,
        background=palette.ground,
        surface=palette.ground,
        panel=palette.chosen,
        warning=pigments["medium"].ink,
        error=pigments["highest"].ink,
        success=pigments["plain"].ink,
        dark=palette.dark,
        text_alpha=1.0,
        variables={
            "input-cursor-background": pigments["strong"].ink or "",
            "input-cursor-foreground": palette.ground,
            "input-cursor-text-style": "none",
            "input-selection-background": pigments["low"].ink or "",
            "input-selection-foreground": pigments["low-new"].ink or "",
        },
    )


LINEAR_UP_TO: Final = 0.04045
"""Below it the curve of sRGB (IEC 61966-2-1) is a straight line."""


def _channel(part: int) -> float:
    share = part / 255.0
    if share <= LINEAR_UP_TO:
        return share / 12.92
    return float(((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Return the relative luminance of '#rrggbb', as WCAG 2.2 defines it."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return 0.2126 * _channel(red) + 0.7152 * _channel(green) + 0.0722 * _channel(blue)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, from 1 to 21, as WCAG 2.2 defines it."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
