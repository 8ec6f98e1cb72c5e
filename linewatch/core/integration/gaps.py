"""How far apart two good samples may lie before the time between counts as not metered.

Rule 1: three polling periods, or what the configuration states.
Rule 2: a poll comes no oftener than every 20 ms of wall time, and a machine may be held up
        for a moment; under a fast clock both are multiplied. They are therefore counted in
        wall time, times the speed at which the run was started. The speed stands in the
        sequence, so that a replay allows exactly what the run allowed.
"""

from __future__ import annotations

POLL_FLOOR_NS = 20_000_000
"""A poll comes no oftener than this [ns of wall time]."""
HELD_UP_NS = 250_000_000
"""A machine that is held up for so long has no gap in its record [ns of wall time]."""
LATE_NS = 2_000_000_000
"""A busy machine may take up an answer so late [ns of wall time]."""
PERIODS = 3


def longest_gap_ns(period_ns: int, speed: float, stated_ns: int | None = None) -> int:
    """Return how far apart two good samples may lie and still be joined by a trapezoid.

    Args:
        period_ns: Polling period of the samples [ns of line time].
        speed: Line time over wall time of the present run.
        stated_ns: What the configuration states [ns of line time]; None: three periods.

    Returns:
        Longest gap [ns of line time].
    """
    reached_ns = max(period_ns, round(POLL_FLOOR_NS * speed))
    usual_ns = PERIODS * reached_ns + round(HELD_UP_NS * speed)
    if stated_ns is None:
        return usual_ns
    # What is stated holds as it stands, unless the clock runs so fast that no poll can keep it.
    return stated_ns if speed <= 1.0 else max(stated_ns, usual_ns)


def late_ns(speed: float) -> int:
    """Return by how much two readings may lie further apart than their times tell.

    Of two answers the first may have been taken up late and the second at once: what lies
    between them is then longer than it seems. At natural speed that is less than a meter can
    show; under a fast clock it is minutes of line time.

    Args:
        speed: Line time over wall time of the present run.

    Returns:
        Time [ns of line time]; 0 at natural speed.
    """
    return round(LATE_NS * max(0.0, speed - 1.0))


def patience_ns(stale_after_ns: int, speed: float) -> int:
    """Return after how much silence a value is stale.

    Under a fast clock a busy machine is silent for minutes of line time where it is late by a
    second: that is allowed for. At natural speed nothing is added.

    Args:
        stale_after_ns: What the plan states [ns of line time].
        speed: Line time over wall time of the present run.

    Returns:
        Longest silence [ns of line time].
    """
    return max(stale_after_ns, longest_gap_ns(0, speed)) + late_ns(speed)
