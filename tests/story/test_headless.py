"""Our totals beside the plant's own truth, over real sockets."""

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from linewatch import config

Run = Callable[..., "subprocess.CompletedProcess[str]"]
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rated_a() -> dict[str, float]:
    """Return what each tank's rectifiers can give [A]."""
    plan = config.read(ROOT / "config" / "demo.toml").plan
    rated: dict[str, float] = {}
    for rectifier in plan.rectifiers:
        for tank, share in rectifier.feeds:
            rated[tank] = rated.get(tank, 0.0) + share * rectifier.rated_current_a
    return rated


def missing_ah(tank: dict, rated_a: float, poll_s: float) -> float:
    """Return the most that may be missing or too much: a poll, and what is told as unmetered.

    Behind a busy machine a fast clock leaves gaps; they are told, never filled with a guess.
    """
    return rated_a * (poll_s + tank["unmetered_s"]) / 3600.0


def headless(linewatch: Run, *options: str) -> dict:
    done = linewatch("demo", "--headless", "--json", *options)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    return json.loads(done.stdout)


def test_an_untroubled_run_counts_what_the_plant_gave(
    linewatch: Run, rated_a: dict[str, float]
):
    result = headless(linewatch, "--for", "6min", "--speed", "20")
    poll_s = result["poll_s"]

    assert result["elapsed_s"] == pytest.approx(360.0, abs=5 * poll_s)
    assert {link["state"] for link in result["links"]} == {"connected"}
    assert any(tank["true_charge_ah"] > 1.0 for tank in result["tanks"])
    for tank in result["tanks"]:
        one_poll_ah = missing_ah(tank, rated_a[tank["id"]], poll_s)
        for ours, true in (("charge_ah", "true_charge_ah"), ("anodic_ah", "true_anodic_ah")):
            within = max(0.005 * abs(tank[true]), one_poll_ah)
            assert tank[ours] == pytest.approx(tank[true], abs=within), (tank["id"], ours)
        account = tank["metered_s"] + tank["recovered_s"] + tank["unmetered_s"]
        assert account == pytest.approx(result["elapsed_s"], abs=2 * poll_s), tank["id"]


def test_metal_is_the_plants_within_half_a_percent_or_one_poll(
    linewatch: Run, rated_a: dict[str, float]
):
    result = headless(linewatch, "--for", "6min", "--speed", "20", "--seed", "7")
    largest_g_per_ah = 2.4
    plated = [tank for tank in result["tanks"] if tank["true_metal_g"] > 1.0]

    assert plated
    for tank in plated:
        one_poll_g = largest_g_per_ah * missing_ah(tank, rated_a[tank["id"]], result["poll_s"])
        within = max(0.005 * tank["true_metal_g"], one_poll_g)
        assert tank["metal_g"] == pytest.approx(tank["true_metal_g"], abs=within), tank["id"]
