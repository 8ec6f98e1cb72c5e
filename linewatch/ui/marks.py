"""The marks and words that tell states apart without any colour.

Each state has a mark of its own shape and a word; a test holds that no two are alike, in the
full set and in the plain one (7 bits, for the plainest terminal).
"""

from __future__ import annotations

from typing import Final

from linewatch.core.alarms.states import STANDING, TO_ACKNOWLEDGE, State

PRIORITY_MARKS: Final[dict[str, str]] = {
    "highest": "!!!",
    "high": "!! ",
    "medium": "!  ",
    "low": ":  ",
}
"""More strokes, more haste. Three cells each."""

NARROW_MARKS: Final[dict[str, str]] = {"highest": "#", "high": "*", "medium": "!", "low": ":"}
"""The same where there are not three cells: the fuller the sign, the more haste."""

PRIORITY_ORDER: Final = ("highest", "high", "medium", "low")

SIDE_MARKS: Final[dict[str, str]] = {
    "": "  ",
    "high": "▲ ",
    "high-high": "▲▲",
    "low": "▼ ",
    "low-low": "▼▼",
}
UNCERTAIN_MARK: Final = "~ "
HAND_MARK: Final = "h"
"""Behind a figure that a person typed in: it is not read live."""

PRESENCE_MARKS: Final[dict[str, str]] = {
    "": " ",
    "empty": "_",
    "entering": "↧",
    "in": "■",
    "leaving": "↥",
    "gone": "→",
}
"""Whether work hangs in a position, or is on its way from it."""

PLAIN: Final[dict[int, str]] = str.maketrans(
    {
        "▲": "^",
        "▼": "v",
        "↧": "v",
        "↥": "^",
        "■": "#",
        "□": ".",
        "●": "o",
        "•": "o",
        "─": "-",
        "━": "=",
        "│": "|",
        "┃": "#",
        "┌": "+",
        "┐": "+",
        "└": "+",
        "┘": "+",
        "├": "+",
        "┤": "+",
        "┬": "+",
        "┴": "+",
        "┼": "+",
        "╵": "|",
        "╌": "-",
        "┄": ".",
        "░": ".",
        "▒": ":",
        "▓": "%",
        "█": "#",
        "▁": "_",
        "▶": ">",
        "◀": "<",
        "»": ">",
        "«": "<",
        "→": ">",
        "←": "<",
        "↑": "^",
        "↓": "v",
        "↵": "E",
        "×": "x",
        "·": ".",
        "…": "_",
        "°": " ",
        "µ": "u",
        "η": "n",
        "ρ": "r",
        "δ": "d",
        "Δ": "d",
        "∫": "S",
        "²": "2",
        "³": "3",
        "–": "-",
        "≤": "<",
        "≥": ">",
    }
)


def plain(text: str) -> str:
    """Return a text in 7 bits, of the same width."""
    if text.isascii():
        return text
    shown = text.replace("± ", "+-").translate(PLAIN)
    return shown if shown.isascii() else "".join(_seven_bits(each) for each in shown)


def _seven_bits(character: str) -> str:
    if character.isascii():
        return character
    from linewatch.ui.text import cells

    return "?" * cells(character)


STATE_FRAMES: Final[dict[str, tuple[str, str, str]]] = {
    State.NORMAL.word: (" ", ".", State.NORMAL.said),
    State.UNACKNOWLEDGED.word: ("[", "]", State.UNACKNOWLEDGED.said),
    State.ACKNOWLEDGED.word: (" ", " ", State.ACKNOWLEDGED.said),
    State.RETURNED.word: ("(", ")", State.RETURNED.said),
    State.LATCHED_UNACKNOWLEDGED.word: ("{", "}", State.LATCHED_UNACKNOWLEDGED.said),
    State.LATCHED.word: ("<", ">", State.LATCHED.said),
    State.SHELVED.word: ("z", "z", State.SHELVED.said),
    State.SUPPRESSED.word: ("-", "-", State.SUPPRESSED.said),
    State.OUT_OF_SERVICE.word: ("x", "x", State.OUT_OF_SERVICE.said),
}
"""What stands round an alarm's strokes, and its word, by state."""

_STANDING = frozenset(state.word for state in STANDING)
_TO_ACKNOWLEDGE = frozenset(state.word for state in TO_ACKNOWLEDGE)


def state_of(name: str) -> str:
    """Return the row of STATE_FRAMES for a state's name; an unknown one counts as new."""
    return name if name in STATE_FRAMES else State.UNACKNOWLEDGED.word


def alarm_mark(priority: str, state: str) -> str:
    """Return the five cells that tell an alarm's haste and state: '[!! ]'."""
    before, after, _ = STATE_FRAMES[state_of(state)]
    return f"{before}{PRIORITY_MARKS.get(priority, '?  ')}{after}"


def standing_state(*, is_new: bool, has_gone: bool) -> str:
    """Return the state in whose frame several alarms of one place are marked together.

    Args:
        is_new: Whether one of them waits to be seen.
        has_gone: Whether the condition of each has gone.
    """
    if has_gone:
        return (State.RETURNED if is_new else State.LATCHED).word
    return (State.UNACKNOWLEDGED if is_new else State.ACKNOWLEDGED).word


def state_word(state: str) -> str:
    """Return the word for an alarm's state."""
    return STATE_FRAMES[state_of(state)][2]


def is_new(state: str) -> bool:
    """Say whether an alarm waits for somebody to say that it was seen."""
    return state_of(state) in _TO_ACKNOWLEDGE


def is_standing(state: str) -> bool:
    """Say whether an alarm stands: shelved, suppressed and out of service ones do not."""
    return state_of(state) in _STANDING


def rank(priority: str) -> int:
    """Return 0 for the highest priority, more for lesser ones."""
    return PRIORITY_ORDER.index(priority) if priority in PRIORITY_ORDER else len(PRIORITY_ORDER)
