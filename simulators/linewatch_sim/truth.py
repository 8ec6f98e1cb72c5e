"""The plant's own truth, told as plain words and numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewatch_sim.memory import TANK_ROWS

if TYPE_CHECKING:
    from linewatch_sim.memory import Past
    from linewatch_sim.works import Works


def truth_at(works: Works, past: Past, line_s: float) -> dict[str, Any]:
    """Return what was true at a line time, cumulative since the plant began."""
    known, is_known = past.at(line_s)
    line = works.line
    told: dict[str, Any] = {
        "line_s": known.line_s,
        "lag_s": max(line_s - known.line_s, 0.0),
        "tanks": {
            tank.id: dict(zip(TANK_ROWS, known.tanks[:, k].tolist(), strict=True))
            for k, tank in enumerate(line.tanks)
        },
        "rectifiers": {
            rectifier.id: {
                "charge_ah": float(known.meters_ah[k] - rectifier.meter_start_ah),
                "current_a": float(works.electrics.current_a[k]),
                "voltage_v": float(works.electrics.voltage_v[k]),
            }
            for k, rectifier in enumerate(line.rectifiers)
        },
        "loads": works.load_rows(),
    }
    if not is_known:
        told["note"] = "that moment is forgotten: this is the oldest that is known"
    return told
