"""What coming into a tank means for a route."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.loads.travel import arrival, dwell_mark, follows
from linewatch.core.plan import RoutePlan, StepPlan

ROUTE = RoutePlan(
    id="r",
    name="Route",
    steps=(
        StepPlan(tanks=("clean",)),
        StepPlan(tanks=("rinse",)),
        StepPlan(tanks=("zinc-1", "zinc-2")),
        StepPlan(tanks=("rinse",)),
        StepPlan(tanks=("dry",)),
    ),
)


@given(st.lists(st.booleans(), min_size=5, max_size=5))
def test_what_is_left_out_and_what_is_done_is_the_whole_route(visited: list[bool]) -> None:
    """Whichever steps a load does, each is told as done or left out, or lies at the end."""
    done, left_out, did = -1, 0, 0
    way = [("clean",), ("rinse",), ("zinc-2",), ("rinse",), ("dry",)]
    for number, (tank,) in enumerate(way):
        # The two rinses look alike: a load that skips the first but not the second is at
        # the first as far as anybody can tell, so both are done or neither is.
        is_done = visited[1] if number in {1, 3} else visited[number]
        if not is_done:
            continue
        came = arrival(ROUTE, done, tank)
        assert came.step is not None
        left_out += len(came.left_out)
        done, did = came.step, did + 1
    assert did + left_out == done + 1


def test_any_tank_of_a_step_serves():
    assert arrival(ROUTE, 1, "zinc-1").step == arrival(ROUTE, 1, "zinc-2").step == 2


def test_a_tank_of_two_steps_is_the_first_that_lies_ahead():
    assert arrival(ROUTE, 0, "rinse").step == 1
    assert arrival(ROUTE, 2, "rinse").step == 3


def test_what_was_left_out_is_named():
    assert arrival(ROUTE, 0, "zinc-1").left_out == (ROUTE.steps[1],)


def test_going_back_leaves_nothing_out():
    assert arrival(ROUTE, 4, "clean") == arrival(ROUTE, 4, "clean")
    assert arrival(ROUTE, 4, "clean").left_out == ()
    assert arrival(ROUTE, 4, "clean").step == 0


def test_a_tank_that_is_not_on_the_route_is_no_step():
    assert arrival(ROUTE, 0, "nickel").step is None
    assert not follows(ROUTE, ["clean", "nickel"])
    assert follows(ROUTE, ["rinse", "clean"])


def test_dwells_are_held_against_both_limits():
    assert dwell_mark(100.0, 60.0, 120.0) == ""
    assert dwell_mark(50.0, 60.0, None) == "50 s, at least 60 s wanted"
    assert dwell_mark(130.0, None, 120.0) == "2 min 10 s, at most 2 min wanted"
    assert dwell_mark(1e6, None, None) == ""


def test_a_dwell_is_short_only_beyond_what_a_poll_can_tell():
    assert dwell_mark(59.0, 60.0, None) == ""
    assert dwell_mark(58.5, 60.0, None) != ""
