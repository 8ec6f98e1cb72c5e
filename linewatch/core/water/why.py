"""Why the figures of a rinse are what they are, from the picture alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.explanation import Explanation, GivenInput
from linewatch.core.water.rinsing import ASSUMED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.water.seen import RinsePicture

BALANCE = "mass balance of a stirred tank"


def why_rinse(rinse: RinsePicture) -> Sequence[Explanation]:
    """Return the explanation of every figure of a rinse that is worked out."""
    told = (_film(rinse), _flow(rinse), _needed(rinse))
    return [each for each in told if each is not None]


def _given(name: str, symbol: str, value: float, unit: str, source: str) -> GivenInput:
    return GivenInput(name=name, symbol=symbol, value=value, unit=unit, source=source)


def _means(rinse: RinsePicture) -> str:
    return f"mean of {rinse.over_loads}"


def _film(rinse: RinsePicture) -> Explanation | None:
    if rinse.film_ml is None or rinse.step_us is None or rinse.volume_l is None:
        return None
    inputs = [
        _given("step of a load", "Δκ", rinse.step_us, "uS/cm", _means(rinse)),
        _given("volume of the rinse", "V", rinse.volume_l, "L", "configuration"),
        _given("rinse before it", "κ", rinse.before_us or 0.0, "uS/cm", _means(rinse)),
    ]
    if rinse.source_us is not None:
        what = f"{rinse.source}, {rinse.source_from}"
        inputs.append(_given("what it came from", "κ0", rinse.source_us, "uS/cm", what))
    by_area = ""
    if rinse.film_ml_per_m2 is not None:
        by_area = (
            f"By area {rinse.film_ml_per_m2:.0f} ± {rinse.film_pm_ml_per_m2 or 0.0:.0f} mL/m2."
        )
    return Explanation(
        figure="drag-out a load",
        value=rinse.film_ml,
        unit="mL",
        formula="D = Δκ V / ((κ0 - κ) r w), r: what a dilute salt conducts more, w: washed off",
        inputs=tuple(inputs),
        source=BALANCE,
        notes=tuple(
            note
            for note in (
                f"± {rinse.film_pm_ml or 0.0:.0f} mL",
                by_area,
                rinse.untold_words,
                f"Assumed: {ASSUMED}.",
            )
            if note
        ),
    )


def _flow(rinse: RinsePicture) -> Explanation | None:
    if rinse.decay_flow_l_per_min is None or rinse.volume_l is None or rinse.decay_s is None:
        return None
    return Explanation(
        figure="water by decay",
        value=rinse.decay_flow_l_per_min,
        unit="L/min",
        formula="Q = V / τ; between loads κ - κw falls as exp(-t/τ)",
        inputs=(
            _given("volume of the rinse", "V", rinse.volume_l, "L", "configuration"),
            _given("time constant", "τ", rinse.decay_s, "s", _means(rinse)),
            _given("its water", "κw", rinse.feed_us or 0.0, "uS/cm", "configuration or read"),
        ),
        source=BALANCE,
        notes=(f"± {rinse.decay_flow_pm_l_per_min or 0.0:.2g} L/min",),
    )


def _needed(rinse: RinsePicture) -> Explanation | None:
    if rinse.needed_l_per_min is None or rinse.limit_us is None:
        return None
    return Explanation(
        figure="water needed",
        value=rinse.needed_l_per_min,
        unit="L/min",
        formula="κw + Δκ exp(-d/τ) / (1 - exp(-T/τ)) = κ limit, τ = V / Q",
        inputs=(
            _given("step of a load", "Δκ", rinse.step_us or 0.0, "uS/cm", _means(rinse)),
            _given("from load to load", "T", rinse.interval_s or 0.0, "s", _means(rinse)),
            _given("stay of a load", "d", rinse.dwell_s or 0.0, "s", _means(rinse)),
            _given("volume of the rinse", "V", rinse.volume_l or 0.0, "L", "configuration"),
            _given("its water", "κw", rinse.feed_us or 0.0, "uS/cm", "configuration or read"),
            _given("limit", "κ limit", rinse.limit_us, "uS/cm", "configuration"),
        ),
        source=BALANCE,
        notes=("At its limit when loads leave, once nothing changes any more.",),
    )
