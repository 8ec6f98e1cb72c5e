"""Commands that touch no line: check, schema, calc."""

from __future__ import annotations

from pathlib import Path

from linewatch.cli import app


@app.command
def check(file: Path) -> int:
    """Check a configuration and list every fault at once.

    Args:
        file: The configuration.
    """
    from linewatch import config

    works = config.read(file)
    plan = works.plan
    print(
        f"{file}: no fault; line {plan.line_id} with {len(plan.tanks)} tanks,"
        f" {len(plan.rectifiers)} rectifiers, {len(plan.tags)} tags on"
        f" {len(works.links)} links and {len(plan.conditions)} alarm conditions"
    )
    return 0
