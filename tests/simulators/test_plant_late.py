"""A plant that was held up, or runs very fast, keeps up with its clock."""

import time

import pytest

from linewatch_sim.clock import LineClock
from linewatch_sim.plant import FASTEST_FINE, Plant
from linewatch_sim.works import COARSE_S, FINE_S

HELD_UP_S = 400.0


def held_up(speed: float) -> Plant:
    """Return a plant whose time has gone on without it."""
    plant = Plant("first", speed=speed)
    began_ns = time.monotonic_ns() - round(HELD_UP_S / speed * 1e9)
    plant.clock = LineClock(speed=speed, began_ns=began_ns)
    return plant


@pytest.mark.parametrize(
    ("speed", "within_s"), [(1.0, FINE_S), (60.0, FINE_S), (2.0 * FASTEST_FINE, COARSE_S)]
)
def test_it_catches_up_to_the_last_whole_step(speed: float, within_s: float):
    plant = held_up(speed)
    due_s = plant.clock.now_s()
    plant.advance()
    plant.advance()

    assert plant.works.line_s > due_s - within_s


def test_what_was_true_on_the_way_is_known_afterwards():
    plant = held_up(1.0)
    plant.advance()
    began_ns = plant.clock.began_ns
    charges = [
        plant.truth(began_ns + round(share * HELD_UP_S * 1e9))["tanks"]["nickel-1"][
            "cathodic_ah"
        ]
        for share in (0.2, 0.4, 0.6, 0.8)
    ]

    assert charges == sorted(charges)
    assert charges[-1] > charges[0]
