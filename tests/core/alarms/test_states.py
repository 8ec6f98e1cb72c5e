"""The table of an alarm's states: every state with every move, allowed or refused."""

import itertools
from pathlib import Path

import pytest

from linewatch.core.alarms.states import STANDING, TABLE, TO_ACKNOWLEDGE, Move, State, moved
from linewatch.core.errors import Refused

EVERY = list(itertools.product(State, Move))

STANDARD = {
    # The core transitions of ISA-18.2 / IEC 62682 in the letters A to F.
    ("A", Move.OCCUR): "B",
    ("B", Move.ACKNOWLEDGE): "C",
    ("C", Move.CLEAR): "A",
    ("B", Move.CLEAR): "D",
    ("D", Move.ACKNOWLEDGE): "A",
    ("D", Move.OCCUR): "B",
    ("B", Move.CLEAR_LATCHED): "E",
    ("C", Move.CLEAR_LATCHED): "F",
    ("E", Move.ACKNOWLEDGE): "F",
    ("F", Move.RESET): "A",
}


@pytest.mark.parametrize(("state", "move"), EVERY, ids=lambda each: each.name)
def test_a_move_leads_where_the_table_says_or_is_refused(state: State, move: Move):
    if (state, move) in TABLE:
        assert moved(state, move, "x") is TABLE[state, move]
    else:
        with pytest.raises(Refused) as refused:
            moved(state, move, "nickel.temperature.low")
        assert "nickel.temperature.low" in str(refused.value)


@pytest.mark.parametrize(("place", "to"), STANDARD.items(), ids=str)
def test_the_core_moves_are_the_standards(place, to: str):
    letter, move = place
    state = next(each for each in State if each.letter == letter)

    assert moved(state, move, "x").letter == to


def test_nothing_leaves_out_of_service_but_a_return():
    ways = {
        move
        for (state, move), to in TABLE.items()
        if state is State.OUT_OF_SERVICE and to is not State.OUT_OF_SERVICE
    }

    assert ways == {Move.RETURN}


def test_every_state_can_be_reached_from_normal_and_left_for_it():
    reached = {State.NORMAL}
    for _ in State:
        reached |= {to for (state, _), to in TABLE.items() if state in reached}
    left = {State.NORMAL}
    for _ in State:
        left |= {state for (state, _), to in TABLE.items() if to in left}

    assert reached == left == set(State)


def test_what_waits_for_a_person_stands():
    assert TO_ACKNOWLEDGE < STANDING
    assert State.NORMAL not in STANDING


def test_the_diagram_in_the_guide_is_drawn_from_the_table():
    drawn = diagram()

    assert drawn in (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8"), drawn


def diagram() -> str:
    """Return the table as the guide has it: a line a state."""
    rows = []
    for state in State:
        moves: dict[State, list[str]] = {}
        for (begin, move), to in TABLE.items():
            if begin is state and to is not state:
                moves.setdefault(to, []).append(str(move))
        ways = "; ".join(f"{', '.join(names)} → {to.word}" for to, names in moves.items())
        rows.append(f"{state.letter} {state.word}: {ways}")
    return "\n".join(rows)
