"""What a calibration found feeds how sure the figures are."""

from pathlib import Path

import pytest

from linewatch import config
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.line import Line
from linewatch.core.ports import RunStart
from linewatch.core.readings import Moment, Readings
from linewatch.core.view import ChargePicture

EXAMPLE = (Path(__file__).parents[2] / "config" / "example.toml").read_text("utf-8")
MARK = 'class_ratio = "0.5 %"'


def charge(text: str) -> ChargePicture:
    """Return the charge after ten minutes at a steady current."""
    import numpy as np

    plan = config.read_text(text, "line.toml").plan
    line = Line(plan)
    at = Moment(utc_ns=0, mono_ns=0)
    line.begin(RunStart(run_id="r", at=at, fingerprint=plan.fingerprint, speed=1.0))
    layout = next(each for each in plan.layouts if "rectifier-1.current" in each.tags)
    for second in range(601):
        ns = second * 10**9
        values = np.full(len(layout.tags), 100.0)
        good = np.zeros(len(layout.tags), dtype=np.uint8)
        line.receive(Readings(layout=layout, utc_ns=ns, mono_ns=ns, value=values, quality=good))
    picture = line.picture(Moment(utc_ns=ns, mono_ns=ns))
    return picture.rectifiers[0].charge


def doubt_ah(text: str) -> float:
    """Return the ± of that charge."""
    return charge(text).uncertainty_ah


def test_an_anodic_charge_is_told_with_its_own_doubt():
    plain = charge(EXAMPLE)
    turned = charge(
        EXAMPLE.replace('id = "rectifier-1"', 'id = "rectifier-1"\npolarity = "anodic"', 1)
    )

    assert turned.cathodic_ah == 0.0
    assert turned.anodic_ah == plain.cathodic_ah > 0.0
    assert turned.anodic_uncertainty_ah == plain.uncertainty_ah > 0.0
    assert turned.uncertainty_ah == plain.anodic_uncertainty_ah == 0.0


def test_an_error_found_at_calibration_widens_the_doubt():
    found = EXAMPLE.replace(MARK, MARK + '\nas_found = "-1.5 %"\ncalibrated = "2026-03-01"', 1)

    assert doubt_ah(found) > 2.0 * doubt_ah(EXAMPLE)


@pytest.mark.parametrize("words", ['as_found = "1.5 V"', 'calibrated = "last spring"'])
def test_a_calibration_that_cannot_be_meant_is_refused(words: str):
    with pytest.raises(ConfigurationFaulty, match=words.partition(" =")[0]):
        config.read_text(EXAMPLE.replace(MARK, MARK + "\n" + words, 1), "line.toml")
