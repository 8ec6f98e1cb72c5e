"""Our totals beside the plant's own truth over a long run of the whole works.

    python tests/bench/bench_truth.py [span] [speed]

Runs `linewatch demo --headless` (2h at speed 60) and prints, for every tank, by how much ours
and the plant's differ, and whether that is within 0.5 % or one poll at rated current.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from table import Measured, told

from linewatch import config

ROOT = Path(__file__).parents[2]
RATIO = 0.005


def main(span: str, speed: str) -> list[Measured]:
    """Run, compare and return the table."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [
                sys.executable,
                *("-m", "linewatch", "demo", "--headless", "--json"),
                *("--for", span, "--speed", speed, "--store", folder),
            ],
            capture_output=True,
            text=True,
            check=True,
        )
    result = json.loads(done.stdout)
    plan = config.read(ROOT / "config" / "demo.toml").plan
    rated = {
        tank: share * rectifier.rated_current_a
        for rectifier in plan.rectifiers
        for tank, share in rectifier.feeds
    }
    rows = [Measured(measure="poll reached", value=result["poll_s"], unit="s")]
    for tank in result["tanks"]:
        name = "anodic" if tank["true_anodic_ah"] > tank["true_charge_ah"] else "cathodic"
        ours, true = (
            ("anodic_ah", "true_anodic_ah")
            if name == "anodic"
            else (
                "charge_ah",
                "true_charge_ah",
            )
        )
        allowed = max(RATIO * tank[true], rated[tank["id"]] * result["poll_s"] / 3600.0)
        rows.append(
            Measured(
                measure=f"{tank['id']}: {name} charge off, over what is allowed",
                value=abs(tank[ours] - tank[true]) / allowed,
                unit="",
                against=f"plant: {tank[true]:.1f} A·h",
                wanted="<= 1",
            )
        )
        account = tank["metered_s"] + tank["recovered_s"] + tank["unmetered_s"]
        rows.append(
            Measured(
                measure=f"{tank['id']}: account of time off, in polls",
                value=abs(account - result["elapsed_s"]) / result["poll_s"],
                unit="polls",
                wanted="<= 1",
            )
        )
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("span", nargs="?", default="2h")
    parser.add_argument("speed", nargs="?", default="60")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    told(main(asked.span, asked.speed), asked.json)
