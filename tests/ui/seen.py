"""What a person would see and do: an app on an invented desk, its text, its keys."""

from __future__ import annotations

import datetime

from linewatch.ui.app import LinewatchApp, Options
from tests.ui import invented

NOW = invented.NOON + 2 * invented.S


def app_on(desk, **wishes) -> LinewatchApp:
    """Return an app on a desk, two seconds after noon, in UTC."""
    wishes.setdefault("wall_ns", lambda: NOW)
    # A busy machine must not make a picture older than it is meant to be.
    wishes.setdefault("steady_s", lambda: 100.0)
    wishes.setdefault("zone", datetime.UTC)
    return LinewatchApp(desk, Options(**wishes))


def lines_of(app) -> list[str]:
    """Return every row that the present view was told to show, as plain text."""
    live = app.live
    return [
        "".join(span.text for span in row.spans)
        for sheet in (live.head, live.body, live.lower, live.foot)
        for row in sheet.rows
    ]


def text_of(app) -> str:
    """Return everything on the present view as plain text."""
    return "\n".join(lines_of(app))


def row_with(app, words: str) -> str:
    """Return the one row that holds some words."""
    found = [line for line in lines_of(app) if words in line]
    assert len(found) == 1, f"{len(found)} rows hold {words!r}"
    return found[0]


async def settle(app, pilot) -> None:
    """Wait until nothing is under way: workers, then the drawing that they brought."""
    await pilot.pause()
    await app.workers.wait_for_complete()
    await pilot.pause()


async def press(app, pilot, *keys: str) -> None:
    """Press keys, each when what the one before it did is over.

    '@tank nickel-1' is no key: it puts the cursor there, as many presses would; '12x zoom-in'
    does what pressing the key of that id twelve times would.
    """
    for key in keys:
        times, _, key_id = key.partition("x ")
        if key_id:
            for _ in range(int(times)):
                app.live.action_do(key_id)
            await settle(app, pilot)
            continue
        if key.startswith("@"):
            app.live.body.choose(key[1:])
            app.live.paint()
            continue
        await pilot.press(key)
        if any(worker.is_running for worker in app.workers):
            await settle(app, pilot)
    await settle(app, pilot)
