"""Every key once. Footer, help, command palette and the printed card read this table.

Keys are remapped by id: `Keys({"alarms": "f3"})`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from textual.binding import Binding, BindingType

EVERYWHERE: Final = "everywhere"


@dataclass(frozen=True, slots=True)
class Key:
    """One key and what it does."""

    id: str
    """Names the key in configuration; the toolkit's action is `id` with '_' for '-'."""
    key: str
    """The toolkit's name of the key; several, separated by commas."""
    label: str
    """As the footer says it: one word or two."""
    tells: str
    """What it does, as help and palette say it."""
    where: tuple[str, ...] = (EVERYWHERE,)
    in_footer: bool = True


KEYS: Final[tuple[Key, ...]] = (
    Key("open", "enter", "open", "Open what the cursor is on", ("line", "tank", "rectifiers",
        "baths", "loads", "load", "alarms", "events", "handover", "rinses", "sheet")),
    Key("acknowledge", "space", "seen", "Acknowledge: say that the alarm, or the tank's alarms,"
        " have been seen", ("alarms", "line", "tank")),
    Key("acknowledge-all", "A", "all seen", "Acknowledge every alarm that waits", ("alarms",)),
    Key("shelve", "z", "shelve", "Shelve the alarm: put it aside for a limited time",
        ("alarms",)),
    Key("unshelve", "Z", "bring back", "Bring a shelved alarm back", ("alarms",),
        in_footer=False),
    Key("reset-latch", "L", "release", "Release a latched alarm whose cause has gone",
        ("alarms",), in_footer=False),
    Key("out-of-service", "o", "out of service", "Take the alarm, tank or rectifier out of"
        " service, or put it back", ("alarms", "tank", "rectifiers"), in_footer=False),
    Key("log-addition", "d", "log addition", "Log an addition that was put into the bath",
        ("baths", "tank")),
    Key("take-back", "C", "take back", "Take an addition back by a counter-entry; both stay in"
        " the record", ("baths",)),
    Key("laboratory", "V", "laboratory", "What the laboratory found in the bath or tank:"
        " values, limits, control charts, what is due", ("baths", "tank", "line")),
    Key("dummy", "D", "dummies", "Say that a tank plates dummies, or no longer",
        ("baths", "tank"), in_footer=False),
    Key("decide", "y", "decide", "Say what becomes of the load: held, released, rework, scrap",
        ("loads", "load")),
    Key("found", "m", "found", "Note what was found on the load: thickness, adhesion, looks",
        ("loads", "load")),
    Key("card", "j", "card", "Write the load's card: part, amount, area, lot, reference",
        ("loads", "load")),
    Key("place", "W", "where", "Say which load is in a tank, where no signal tells it, or"
        " tells it wrongly", ("loads", "load", "tank"), in_footer=False),
    Key("bake", "O", "oven", "Say that the load went into an oven, or came out",
        ("loads", "load"), in_footer=False),
    Key("serviced", "M", "serviced", "Say that the rectifier was serviced or replaced: what was"
        " learned of it is learned anew", ("rectifiers",)),
    Key("well", "g", "good", "Write down that what the cursor is on is good", ("sheet",)),
    Key("all-well", "Y", "all good", "Write down that all that is still blank at this position"
        " is good", ("sheet",)),
    Key("sign", "G", "sign", "Sign the check sheet: what the signals read now stands with it",
        ("sheet",)),
    Key("frames", "F", "raw frames", "Capture the raw frames of a rectifier's, tank's or link's"
        " line into a file for an hour", ("rectifiers", "links", "tank")),
    Key("zoom-in", "plus,equals_sign", "closer", "Look at a shorter time", ("trend",)),
    Key("zoom-out", "minus", "wider", "Look at a longer time", ("trend",)),
    Key("pan-back", "comma,less_than_sign", "earlier", "Go back in time", ("trend",)),
    Key("pan-on", "full_stop,greater_than_sign", "later", "Go on in time", ("trend",)),
    Key("to-now", "0", "now", "Follow the present again", ("trend",)),
    Key("save", "w", "save", "Save what is shown: the curve as a table, the screen as a"
        " picture", ("trend",)),
    Key("back", "escape,backspace", "back", "Back to where you came from"),
    Key("help", "question_mark,f1", "help", "Help: what am I looking at, keys, cautions"),
    Key("alarms", "a", "alarms", "Alarms: standing, shelved, suppressed, out of service"),
    Key("loads", "p", "loads", "Loads and when to pull them"),
    Key("trend", "t", "trend", "How a quantity of this tank or rectifier went over time"),
    Key("explain", "x", "explain", "How a figure was worked out, and how sure it is"),
    Key("loads-too", "v", "loads too", "Show the comings and goings of loads too, or leave them"
        " out", ("events",)),
    Key("search", "slash,f", "find", "Find a tank, tag, load, bath, rectifier or alarm by"
        " typing"),
    Key("line", "l", "line", "The line: every position in process order"),
    Key("rectifiers", "r", "rectifiers", "Rectifiers"),
    Key("baths", "b", "baths", "Baths: additions that are owed, metal, charge"),
    Key("links", "k", "links", "Links to the devices: state, answers, failures"),
    Key("events", "e", "events", "What happened, the newest last"),
    Key("handover", "H", "hand over", "What this shift leaves to the next, and the journal's"
        " seal", in_footer=False),
    Key("rinses", "R", "rinses", "Rinses: what loads carry in, the water they take; levels",
        in_footer=False),
    Key("sheet", "S", "check sheet", "The shift's check sheet: from the signals, and by hand",
        in_footer=False),
    Key("note", "n", "note", "Write a note on what the cursor is on", in_footer=False),
    Key("hand-reading", "h", "hand reading", "Enter a value read by hand: dipstick, titration",
        in_footer=False),
    Key("line-state", "s", "line state", "Say what the line is doing: producing, heating up,"
        " planned stop", in_footer=False),
    Key("units", "u", "units", "Metric or US units", in_footer=False),
    Key("theme", "c", "colours", "Dark, light or high contrast", in_footer=False),
    Key("initials", "i", "initials", "Say who is at this terminal now", in_footer=False),
    Key("palette", "ctrl+p", "commands", "Every command by name", in_footer=False),
    Key("quit", "q,ctrl+q,ctrl+c", "quit", "Close this screen; the recording goes on, a"
        " demonstration ends"),
)  # fmt: skip
"""In the order in which a footer shows them."""

MOVES: Final[tuple[Key, ...]] = (
    Key("up", "up", "up", "The row above", in_footer=False),
    Key("down", "down", "down", "The row below", in_footer=False),
    Key("page-up", "pageup", "page up", "A screenful up", in_footer=False),
    Key("page-down", "pagedown", "page down", "A screenful down", in_footer=False),
    Key("first", "home", "first", "The first row", in_footer=False),
    Key("last", "end", "last", "The last row", in_footer=False),
    Key("previous", "left", "previous", "The one before: tank, rectifier; cursor of a trend",
        in_footer=False),
    Key("next", "right", "next", "The one after: tank, rectifier; cursor of a trend",
        in_footer=False),
    Key("lower-up", "left_square_bracket", "details up", "The lower part up", in_footer=False),
    Key("lower-down", "right_square_bracket", "details down", "The lower part down",
        in_footer=False),
)  # fmt: skip

ALL: Final = (*KEYS, *MOVES)
BY_ID: Final[dict[str, Key]] = {each.id: each for each in ALL}

NAMES: Final[dict[str, str]] = {
    "escape": "Esc",
    "enter": "Enter",
    "space": "Space",
    "slash": "/",
    "question_mark": "?",
    "backspace": "Backspace",
    "plus": "+",
    "equals_sign": "=",
    "minus": "-",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "comma": ",",
    "full_stop": ".",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "up": "Up",
    "down": "Down",
    "left": "Left",
    "right": "Right",
    "home": "Home",
    "end": "End",
}


def key_name(key: str) -> str:
    """Return how a person writes a key: 'question_mark' is '?', 'ctrl+p' is 'Ctrl+P'."""
    if key.startswith("ctrl+"):
        return "Ctrl+" + key[5:].upper()
    if len(key) > 1 and key[0] == "f" and key[1:].isdigit():
        return key.upper()
    return NAMES.get(key, key)


class UnknownKeyId(ValueError):
    """A remapping names a key that does not exist.

    Args:
        wrong: The ids that are unknown.
    """

    def __init__(self, wrong: Iterable[str]) -> None:
        self.wrong = tuple(sorted(wrong))
        super().__init__(
            f"keys: no key is called {', '.join(self.wrong)}; use some of"
            f" {', '.join(sorted(BY_ID))}"
        )


@dataclass(frozen=True)
class Keys:
    """The table with a shop's own keys in it."""

    mapping: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unknown = set(self.mapping) - set(BY_ID)
        if unknown:
            raise UnknownKeyId(unknown)

    def of(self, key_id: str) -> str:
        """Return the toolkit's names of a key, separated by commas."""
        return self.mapping.get(key_id, BY_ID[key_id].key)

    def name(self, key_id: str) -> str:
        """Return how a person writes the first key of an action."""
        return key_name(self.of(key_id).split(",")[0])

    def here(self, view: str) -> list[Key]:
        """Return the keys that count in a view, its own first."""
        own = [each for each in KEYS if view in each.where]
        return own + [each for each in KEYS if EVERYWHERE in each.where and each.id != view]

    def hints(self, view: str, idle: Collection[str] = ()) -> list[tuple[str, str]]:
        """Return what the footer of a view says, key and word, but for what is idle there."""
        return [
            (self.name(each.id), each.label)
            for each in self.here(view)
            if each.in_footer and each.id not in idle
        ]

    def card(self) -> str:
        """Return the card of keys to print and pin up: plain text, 64 columns."""
        lines = ["linewatch: the keys", "=" * 64]
        places = [("Everywhere", EVERYWHERE)] + [
            (f"In {name}", name)
            for name in dict.fromkeys(
                place for each in KEYS for place in each.where if place != EVERYWHERE
            )
        ]
        for title, place in places:
            lines += ["", title]
            for each in ALL:
                if place in each.where:
                    names = " or ".join(key_name(key) for key in self.of(each.id).split(","))
                    lines.append(f"  {names:<22} {each.tells}")
        return "\n".join(lines) + "\n"


def bindings() -> list[BindingType]:
    """Return the toolkit's bindings of the whole table, before any remapping."""
    return [
        Binding(
            each.key, f"do('{each.id}')", each.label, id=each.id, show=False, tooltip=each.tells
        )
        for each in ALL
    ]
