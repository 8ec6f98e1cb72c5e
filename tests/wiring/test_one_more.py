"""One more of anything is one row or one table, from the configuration to the screen."""

import numpy as np
import pytest
import tomlkit

from linewatch.config import read_text
from linewatch.config.library import shipped
from linewatch.core.line import Line
from linewatch.core.measurements import MEASUREMENTS, Measurement
from linewatch.core.ports import RunStart
from linewatch.core.readings import Moment, Quality, Readings
from linewatch.ui.draw.line import line_rows
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.tank import tank_rows

S = 1_000_000_000
POSITION = """
[[tank]]
id = "warm-rinse"
name = "Warm rinse"
kind = "rinse"
number = "9"
track = "rack"
longest_dwell = "5 min"
window.temperature = { low = "35 degC", high = "45 degC" }
"""


def example(*more: str, tags: tuple[dict[str, object], ...]) -> str:
    text = (shipped() / "example.toml").read_text(encoding="utf-8") + "".join(more)
    document = tomlkit.parse(text)
    for tag in tags:
        document["device"][1]["tag"].append(tag)
    return tomlkit.dumps(document)


def shown_after(text: str, tag: str, value: float):
    """Return a line's picture after one value of one tag."""
    line = Line(read_text(text, "line.toml").plan)
    layout = next(each for each in line.plan.layouts if tag in each.tags)
    values = np.full(len(layout.tags), np.nan)
    quality = np.full(len(layout.tags), Quality.NOT_YET, dtype=np.uint8)
    values[layout.tags.index(tag)] = value
    quality[layout.tags.index(tag)] = Quality.GOOD
    now = Moment(utc_ns=2 * S, mono_ns=2 * S)
    line.begin(RunStart(run_id="r", at=now, fingerprint=line.plan.fingerprint, speed=1.0))
    line.receive(
        Readings(
            layout=layout, utc_ns=now.utc_ns, mono_ns=now.mono_ns, value=values, quality=quality
        )
    )
    return line.picture(now)


def said(rows) -> str:
    return "\n".join("".join(span.text for span in row.spans) for row in rows)


def test_a_measurement_is_one_row(monkeypatch: pytest.MonkeyPatch) -> None:
    row = Measurement(
        kind="cloudiness", label="cloud", unit="%", decimals=1, low=0.0, high=100.0
    )
    monkeypatch.setitem(MEASUREMENTS, "cloudiness", row)
    tag = {"measures": "nickel-1.cloudiness", "read": {"address": 9, "type": "uint16"}}

    picture = shown_after(example(tags=(tag,)), "nickel-1.cloudiness", 12.5)

    tank = next(each for each in picture.tanks if each.id == "nickel-1")
    look = Look(width=100, height=40, now_ns=2 * S)
    shown = next(
        line
        for line in said(tank_rows(picture, tank, (), None, look)).splitlines()
        if "cloud" in line
    )
    assert "12.5 %" in shown


def test_a_position_is_one_table() -> None:
    tag = {"measures": "warm-rinse.temperature", "read": {"address": 8, "type": "int16"}}

    picture = shown_after(example(POSITION, tags=(tag,)), "warm-rinse.temperature", 50.0)

    shown = next(
        line
        for line in said(
            line_rows(picture.tanks, Look(width=160, height=50, now_ns=2 * S))
        ).splitlines()
        if "Warm rinse" in line
    )
    assert "50.0" in shown
    assert "▲" in shown
