"""Collectors that die, come back, meet each other, and are asked to end."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from linewatch import config, history
from linewatch.core.ports import Desk
from linewatch.wiring.plant import RunningPlant, running_plant
from linewatch.wiring.viewer import desk_when_ready

Run = Callable[..., "subprocess.CompletedProcess[str]"]
ROOT = Path(__file__).parents[2]
LINE = "first-line"


@pytest.fixture
def plant() -> Iterator[RunningPlant]:
    """Run the short invented line at its natural speed."""
    with running_plant(speed=1.0, troubles=(), seed=1, line="first") as running:
        yield running


@pytest.fixture
def line_file(tmp_path: Path, plant: RunningPlant) -> Path:
    """Write the line's configuration with the plant's addresses."""
    file = tmp_path / "line.toml"
    works = config.read(ROOT / "config" / "first-line.toml").with_addresses(plant.links)
    file.write_text(works.text, encoding="utf-8")
    return file


class Collector:
    """A collector process of a test."""

    def __init__(self, file: Path, store: Path, *more: str) -> None:
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "linewatch", "collect", str(file)),
                *("--store", str(store), *more),
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )

    def end(self, number: int = signal.SIGTERM) -> str:
        """Send a signal, wait for the end, and return what it said."""
        self.process.send_signal(number)
        _, said = self.process.communicate(timeout=20.0)
        return said


@pytest.fixture
def collector(tmp_path: Path, line_file: Path) -> Iterator[Collector]:
    """Run a collector on the plant."""
    running = Collector(line_file, tmp_path / "store")
    yield running
    if running.process.poll() is None:
        running.process.kill()
    running.process.communicate()


def desk_of(store: Path) -> Desk:
    """Return the line's desk once it shows a live picture with figures."""
    desk = desk_when_ready(store, LINE)
    until(lambda: has_figures(desk), bool)
    return desk


def until(look: Callable[[], object], good: Callable[[object], bool], tries: int = 400):
    """Look again and again, a twentieth of a second apart, until what is seen is good."""
    seen: object = None
    for _ in range(tries):
        seen = look()
        if good(seen):
            return seen
        threading.Event().wait(0.05)
    raise AssertionError(f"never came: {seen!r}")


def has_figures(desk: Desk) -> bool:
    picture = desk.picture()
    return picture is not None and any(
        figure.value is not None for tank in picture.tanks for figure in tank.figures.values()
    )


def charge_ah(desk: Desk) -> float:
    """Return the cathodic charge over all tanks on the present picture."""
    return sum(tank.charge.cathodic_ah for tank in desk.picture().tanks if tank.charge)


def test_a_killed_collector_goes_on_where_its_record_ends(
    tmp_path: Path, line_file: Path, collector: Collector
):
    store = tmp_path / "store"
    desk = desk_of(store)
    until(lambda: charge_ah(desk), lambda ah: ah > 1.0)
    stored = {key: dict(value) for key, value in totals(store).items()}
    collector.end(signal.SIGKILL)
    again = Collector(line_file, store)
    try:
        desk = desk_of(store)
        picture = desk.picture()
        for tank in picture.tanks:
            if tank.charge is None:
                continue
            assert tank.charge.cathodic_ah >= stored[tank.id]["cathodic_uas"] / 3.6e9
            account = tank.charge
            assert account.metered_s + account.recovered_s + account.unmetered_s == (
                pytest.approx(account.elapsed_s, abs=0.01)
            )
        gaps = [t.charge.recovered_s + t.charge.unmetered_s for t in picture.tanks if t.charge]
        assert min(gaps) > 0.0
    finally:
        again.end()


def totals(store: Path) -> dict:
    """Return the totals that are committed."""
    journal = next(store.glob("line=*/journal.sqlite"))
    with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as database:
        rows = database.execute("SELECT subject, parts FROM totals").fetchall()
    return {subject: json.loads(parts) for subject, parts in rows}


def test_a_second_collector_is_refused_and_says_who_holds_the_line(
    linewatch: Run, tmp_path: Path, line_file: Path, collector: Collector
):
    desk_of(tmp_path / "store")
    second = linewatch("collect", str(line_file), "--store", str(tmp_path / "store"))

    assert second.returncode == 1
    assert f"{LINE}: a collector is already running" in second.stderr
    assert str(collector.process.pid) in second.stderr
    assert "Traceback" not in second.stderr


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_collector_that_is_asked_to_end_commits_and_ends_well(
    linewatch: Run, tmp_path: Path, collector: Collector, number: int
):
    store = tmp_path / "store"
    desk_of(store)
    said = collector.end(number)

    assert collector.process.returncode == 0, said
    assert "Traceback" not in said
    verified = linewatch("verify", "--store", str(store))
    assert verified.returncode == 0, verified.stdout
    assert "the record holds" in verified.stdout


def test_stop_ends_a_detached_collector_and_the_record_stays(
    linewatch: Run, tmp_path: Path, collector: Collector
):
    store = tmp_path / "store"
    desk_of(store)
    stopped = linewatch("stop", "--store", str(store))

    assert stopped.returncode == 0, stopped.stderr
    assert collector.process.wait(10.0) == 0
    shown = json.loads(linewatch("show", "--json", "--store", str(store)).stdout)
    assert shown["collecting"] is False
    assert shown["line_id"] == LINE
    assert "no collector" in linewatch("stop", "--store", str(store)).stderr


def figures(desk: Desk) -> dict[str, object]:
    return {
        figure.tag: figure for tank in desk.picture().tanks for figure in tank.figures.values()
    }


@pytest.mark.parametrize(
    ("trouble", "blind", "well"),
    [
        ("sensor-opens", "nickel-1.temperature", "chromium.temperature"),
        ("unit-silent", "rectifier-nickel-1.current", "rectifier-nickel-2.current"),
        ("gateway-drops", "rectifier-nickel-1.current", "chromium.temperature"),
    ],
)
def test_a_trouble_is_marked_never_a_number_and_leaves_the_others_alone(
    tmp_path: Path,
    plant: RunningPlant,
    collector: Collector,
    trouble: str,
    blind: str,
    well: str,
):
    desk = desk_of(tmp_path / "store")
    for tag in (blind, well):
        until(lambda tag=tag: figures(desk)[tag], lambda figure: figure.value is not None)
    plant.ask({"do": "trouble", "name": trouble})
    figure = until(lambda: figures(desk)[blind], lambda figure: figure.value is None)

    assert figure.quality >= 0x80
    assert figures(desk)[well].value is not None
    plant.ask({"do": "clear", "name": trouble})
    until(lambda: figures(desk)[blind], lambda figure: figure.value is not None)


def test_a_demo_whose_screen_is_killed_leaves_no_process_behind(tmp_path: Path):
    import psutil

    demo = subprocess.Popen(
        [
            sys.executable,
            *("-m", "linewatch", "demo", "--line", "first", "--headless", "--for", "1h"),
            *("--store", str(tmp_path / "demo")),
        ],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path / "data")},
    )
    try:
        until(lambda: history.lines(tmp_path / "demo"), bool)
        children = psutil.Process(demo.pid).children(recursive=True)
        assert children
    finally:
        demo.kill()
        demo.wait()
    _, alive = psutil.wait_procs(children, timeout=10.0)
    assert not alive
