"""The states of an alarm and every move between them.

Rule 1: every move is in `TABLE`. What the table omits is refused and changes nothing.
Rule 2: shelving outranks suppression by design, and being out of service outranks both. In
        these three the condition is still judged but not announced.
Rule 3: whoever leaves one of these three comes back as normal; what the condition says then
        follows as a move of its own, so that a returning alarm is announced again.

The states and their names are those of ISA-18.2 / IEC 62682; the letters are from memory.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum

from linewatch.core.errors import Refused


class State(IntEnum):
    """Where an alarm stands."""

    NORMAL = 0
    UNACKNOWLEDGED = 1
    ACKNOWLEDGED = 2
    RETURNED = 3
    """Returned to normal before anybody acknowledged it."""
    LATCHED_UNACKNOWLEDGED = 4
    LATCHED = 5
    """Latched and acknowledged: waits for a reset."""
    SHELVED = 6
    SUPPRESSED = 7
    """Suppressed by design: what the line is doing makes it expected."""
    OUT_OF_SERVICE = 8

    @property
    def word(self) -> str:
        """As pictures and records name it."""
        return _WORDS[self]

    @property
    def said(self) -> str:
        """As people name it, on the screen and in refusals."""
        return _SAID[self]

    @property
    def letter(self) -> str:
        """Its letter in the standard's diagram, from memory."""
        return "ABCDEFGHI"[self]


_WORDS = {
    State.NORMAL: "normal",
    State.UNACKNOWLEDGED: "unacknowledged",
    State.ACKNOWLEDGED: "acknowledged",
    State.RETURNED: "returned",
    State.LATCHED_UNACKNOWLEDGED: "latched-unacknowledged",
    State.LATCHED: "latched",
    State.SHELVED: "shelved",
    State.SUPPRESSED: "suppressed",
    State.OUT_OF_SERVICE: "out-of-service",
}


_SAID = {
    State.NORMAL: "normal",
    State.UNACKNOWLEDGED: "new",
    State.ACKNOWLEDGED: "seen",
    State.RETURNED: "gone, not seen",
    State.LATCHED_UNACKNOWLEDGED: "latched, not seen",
    State.LATCHED: "latched, seen",
    State.SHELVED: "shelved",
    State.SUPPRESSED: "suppressed",
    State.OUT_OF_SERVICE: "out of service",
}


class Move(StrEnum):
    """What can happen to an alarm."""

    OCCUR = "occur"
    """The condition has lasted for its on-delay."""
    CLEAR = "clear"
    """The condition is gone for its off-delay."""
    CLEAR_LATCHED = "clear-latched"
    """The same of an alarm that latches."""
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    """By a person, or by itself when the time is over."""
    SUPPRESS = "suppress"
    UNSUPPRESS = "unsuppress"
    REMOVE = "remove-from-service"
    RETURN = "return-to-service"


S, M = State, Move

_ANNOUNCING = (
    S.NORMAL,
    S.UNACKNOWLEDGED,
    S.ACKNOWLEDGED,
    S.RETURNED,
    S.LATCHED_UNACKNOWLEDGED,
    S.LATCHED,
)
_QUIET = (S.SHELVED, S.SUPPRESSED, S.OUT_OF_SERVICE)

TABLE: dict[tuple[State, Move], State] = {
    (S.NORMAL, M.OCCUR): S.UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, M.CLEAR): S.RETURNED,
    (S.UNACKNOWLEDGED, M.CLEAR_LATCHED): S.LATCHED_UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, M.ACKNOWLEDGE): S.ACKNOWLEDGED,
    (S.ACKNOWLEDGED, M.CLEAR): S.NORMAL,
    (S.ACKNOWLEDGED, M.CLEAR_LATCHED): S.LATCHED,
    (S.RETURNED, M.OCCUR): S.UNACKNOWLEDGED,
    (S.RETURNED, M.ACKNOWLEDGE): S.NORMAL,
    (S.LATCHED_UNACKNOWLEDGED, M.OCCUR): S.UNACKNOWLEDGED,
    (S.LATCHED_UNACKNOWLEDGED, M.ACKNOWLEDGE): S.LATCHED,
    (S.LATCHED, M.OCCUR): S.UNACKNOWLEDGED,
    (S.LATCHED, M.RESET): S.NORMAL,
    **{(state, M.SHELVE): S.SHELVED for state in (*_ANNOUNCING, S.SUPPRESSED)},
    (S.SHELVED, M.UNSHELVE): S.NORMAL,
    **{(state, M.SUPPRESS): S.SUPPRESSED for state in _ANNOUNCING},
    (S.SUPPRESSED, M.UNSUPPRESS): S.NORMAL,
    **{
        (state, M.REMOVE): S.OUT_OF_SERVICE for state in (*_ANNOUNCING, S.SHELVED, S.SUPPRESSED)
    },
    (S.OUT_OF_SERVICE, M.RETURN): S.NORMAL,
    **{
        (state, move): state for state in _QUIET for move in (M.OCCUR, M.CLEAR, M.CLEAR_LATCHED)
    },
}
"""Where each allowed move leads."""

STANDING = frozenset(
    {
        S.UNACKNOWLEDGED,
        S.ACKNOWLEDGED,
        S.RETURNED,
        S.LATCHED_UNACKNOWLEDGED,
        S.LATCHED,
    }
)
"""States that a person sees in the list of alarms."""
GONE = frozenset({S.RETURNED, S.LATCHED_UNACKNOWLEDGED, S.LATCHED})
"""Those of them whose condition is no more."""
TO_ACKNOWLEDGE = frozenset({S.UNACKNOWLEDGED, S.RETURNED, S.LATCHED_UNACKNOWLEDGED})

_ASKED: dict[Move, str] = {
    M.ACKNOWLEDGE: "seen: {}",
    M.RESET: "release {}",
    M.SHELVE: "shelve {}",
    M.UNSHELVE: "bring back {}",
    M.REMOVE: "take {} out of service",
    M.RETURN: "put {} back into service",
}
"""What people ask of an alarm, in the words of the keys with which they ask it."""

_WHY_NOT: dict[Move, str] = {
    M.ACKNOWLEDGE: "it does not wait to be seen: it is {}",
    M.RESET: "only what is latched and seen, and whose cause has gone, is released: it is {}",
    M.SHELVE: "it is {} already",
    M.UNSHELVE: "it is not shelved: it is {}",
    M.REMOVE: "it is {} already",
    M.RETURN: "it is not out of service: it is {}",
}


def asked(move: Move, name: str) -> str:
    """Return in words what a person asks of an alarm, or of a thing, by its name."""
    return _ASKED.get(move, f"{move} {{}}").format(name)


def moved(state: State, move: Move, alarm: str) -> State:
    """Return where a move leads.

    Args:
        state: Where the alarm stands.
        move: What happens to it.
        alarm: Its id, for the refusal.

    Returns:
        Where it stands then.

    Raises:
        Refused: the table has no such move; nothing has changed.
    """
    after = TABLE.get((state, move))
    if after is None:
        why = _WHY_NOT.get(move, "it cannot do this while it is {}")
        raise Refused(asked(move, alarm), why.format(state.said))
    return after
