"""A changed limit is a person's act: who, when, old, new, why."""

from __future__ import annotations

import asyncio
from pathlib import Path

from linewatch.config import read_text
from linewatch.core.alarms.alarm import By
from linewatch.wiring.collector import collect
from linewatch.wiring.viewer import acts

EXAMPLE = (Path(__file__).parents[2] / "config" / "example.toml").read_text(encoding="utf-8")


async def recorded(text: str, store: Path, by: By) -> None:
    """Collect until the run has begun."""
    stop = asyncio.Event()
    works = read_text(text, "line.toml")
    await collect(works, store, by=by, stop=stop, began=lambda _: stop.set())


async def test_who_changed_which_limit_from_what_to_what_and_why_stands_in_the_journal(
    tmp_path,
):
    warmer = EXAMPLE.replace('high_high = "68 degC"', 'high_high = "70 degC"')
    assert warmer != EXAMPLE

    await recorded(EXAMPLE, tmp_path, By("AB"))
    await recorded(EXAMPLE, tmp_path, By("AB", "only started again"))
    await recorded(warmer, tmp_path, By("KM", "the boiler was changed"))

    first, second = [act for act in acts(tmp_path, "example") if act.what == "Configure"]
    assert "changes" not in first.parts
    assert (second.who, second.parts["why"]) == ("KM", "the boiler was changed")
    assert second.parts["changes"] == [
        "nickel-1.temperature.high-high limit: 68 degC -> 70 degC"
    ]


async def test_a_configuration_that_can_no_longer_be_read_does_not_stop_the_next(tmp_path):
    import sqlite3

    from linewatch.history.places import places

    await recorded(EXAMPLE, tmp_path, By("AB"))
    with sqlite3.connect(places(tmp_path, "example").journal) as database:
        database.execute("UPDATE texts SET text = 'no longer = a configuration'")
    database.close()
    await recorded(EXAMPLE + "# another\n", tmp_path, By("AB"))

    last = acts(tmp_path, "example")[-1]
    assert last.parts["changes"] == ["the configuration before can no longer be read"]
