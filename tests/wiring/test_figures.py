"""The screen's desk answers for recorded tags and for what follows from them."""

from __future__ import annotations

import numpy as np
import pytest

from linewatch.core.ports import Desk
from linewatch.wiring.figures import FiguresDesk
from tests.core.line.invented import PLAN
from tests.ui import invented


def desk() -> Desk:
    return FiguresDesk(invented.InventedDesk(invented.line()), lambda _: PLAN)


def test_a_figure_is_worked_out_from_the_current_that_was_recorded():
    found = desk().series("nickel.charge", 0, 3600 * invented.S, 60)
    recorded = desk().series("r-nickel.current", 0, 3600 * invented.S, 60)

    assert found.tag == "nickel.charge"
    assert len(found.mean) == len(recorded.mean)
    assert np.isnan(found.mean).tolist() == np.isnan(recorded.mean).tolist()
    assert np.nanmax(found.mean) == pytest.approx(
        np.nansum(recorded.mean * recorded.good_s) / 3600.0
    )


def test_a_recorded_tag_is_handed_on_and_an_unknown_one_refused():
    assert desk().series("nickel.temperature", 0, invented.S, 1).tag == "nickel.temperature"
    with pytest.raises(KeyError):
        desk().series("nowhere.charge", 0, invented.S, 1)
