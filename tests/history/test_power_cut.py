"""Power cuts: of what was shown as stored nothing is missing when unsynced writes are lost."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from linewatch.history.places import places
from tests.history.counting_line import LINE
from tests.history.inspect_record import look

SCRIPT = Path(__file__).with_name("dropped_writes.py")
IMAGES = 30


@pytest.fixture(scope="module")
def images(tmp_path_factory):
    """Return disk images as power cuts at random moments could have left them."""
    store, images = tmp_path_factory.mktemp("store"), tmp_path_factory.mktemp("images")
    subprocess.run(
        [sys.executable, str(SCRIPT), str(store), str(images), "20260225", str(IMAGES)],
        check=True,
    )
    return images


def expected(image: Path) -> dict[str, int]:
    return json.loads((places(image, LINE).folder / "expected.json").read_text())


@pytest.mark.parametrize("number", range(IMAGES))
def test_what_was_shown_as_stored_is_there(images, number):
    image = images / str(number)
    shown = expected(image)

    found = look(image)

    assert found.faults == ()
    assert found.last >= shown["last"], "a total went back"
    assert found.notes >= shown["notes"], "what a person did was lost"


def test_the_power_cuts_did_lose_something(images):
    """Without a loss the test above would prove nothing."""
    sizes = {expected(images / str(k))["at"] for k in range(IMAGES)}
    behind = [
        look(images / str(k)).last - expected(images / str(k))["last"] for k in range(IMAGES)
    ]

    assert len(sizes) > IMAGES // 2
    assert 0 in behind
