"""The shipped configurations describe the plants that are run with them."""

from pathlib import Path

import pytest

from linewatch import config
from linewatch.config import Works as Configured
from linewatch.config.links import TagRead
from linewatch_sim.lines import LINES
from linewatch_sim.registers import device_map
from linewatch_sim.rows import LineRow

FOLDER = Path(__file__).parents[2] / "config"
FILES = {"first": "first-line.toml", "works": "demo.toml"}


@pytest.fixture(params=FILES)
def pair(request: pytest.FixtureRequest) -> tuple[LineRow, Configured]:
    return LINES[request.param][0], config.read(FOLDER / FILES[request.param])


def place_of(tag: TagRead) -> dict[str, object]:
    read = tag.read
    is_bit_table = read.table in {"coil", "discrete"}
    return {
        "table": read.table,
        "address": tag.address,
        "type": "bit" if is_bit_table else read.type,
        "order": read.order,
        "scale": read.scale,
        "bit": read.bit,
        "sentinels": [raw & 0xFFFF for raw in read.sentinels],
        "counts": None
        if read.signal is None
        else [read.signal.counts_at_4ma, read.signal.counts_at_20ma],
        "span": None
        if read.signal is None
        else [float(read.signal.low.split()[0]), float(read.signal.high.split()[0])],
    }


def test_every_variable_is_one_that_the_plant_serves(
    pair: tuple[LineRow, Configured],
) -> None:
    line, works = pair
    served = {(row.link, row.namespace, f"s={row.node}"): row.what for row in line.nodes}
    for settings in works.links:
        if settings.link.protocol != "opcua":
            continue
        for device in settings.devices:
            for tag in device.tags:
                namespace = tag.read.namespace or settings.link.namespace
                place = (settings.link.id, str(namespace), str(tag.read.node))
                assert served[place] == tag.tag


def test_every_tag_stands_where_the_plant_has_it(pair: tuple[LineRow, Configured]) -> None:
    line, works = pair
    mapped = {
        str(row["what"]): (
            row["link"],
            row["unit"],
            {
                "table": row["table"],
                "address": row["address"],
                "type": row["type"],
                "order": row["order"],
                "scale": row["scale"],
                "bit": row["bit"],
                "sentinels": [] if row["sentinel"] is None else [row["sentinel"]],
                "counts": row.get("counts"),
                "span": None if row["span"] is None else list(row["span"]),
            },
        )
        for row in device_map(line)
        if "table" in row
    }
    tags = {
        tag.tag: (settings.link.id, device.device.unit, place_of(tag))
        for settings in works.links
        if settings.link.protocol != "opcua"
        for device in settings.devices
        for tag in device.tags
    }
    # A shop need not watch every register that its devices have.
    assert tags == {name: mapped[name] for name in tags}
    assert len(tags) > 0.7 * len(mapped)


def test_links_are_those_that_the_plant_offers(pair: tuple[LineRow, Configured]) -> None:
    line, works = pair
    configured = {settings.link.id: settings.link.protocol for settings in works.links}
    assert configured == {link.id: link.protocol for link in line.links}


def test_rectifiers_are_those_of_the_plant(pair: tuple[LineRow, Configured]) -> None:
    line, works = pair
    plans = {plan.id: plan for plan in works.plan.rectifiers}
    assert list(plans) == [row.id for row in line.rectifiers]
    for row in line.rectifiers:
        plan = plans[row.id]
        assert plan.feeds == row.feeds
        assert (plan.rated_current_a, plan.rated_voltage_v) == (row.rated_a, row.rated_v)
        assert plan.polarity == ("anodic" if row.anodic else "cathodic")
        assert plan.meter_modulus_ah == row.meter_modulus_ah
        assert plan.pulses == row.pulses
        # A zero offset must not be counted as current while the unit is off.
        assert row.zero_offset_a < plan.zero_cutoff_a < 0.02 * row.rated_a


def test_tanks_are_those_of_the_plant(pair: tuple[LineRow, Configured]) -> None:
    line, works = pair
    tanks = {plan.id: plan for plan in works.plan.tanks}
    for row in line.tanks:
        assert row.id in tanks
        if not row.is_air:
            assert tanks[row.id].volume_l == row.volume_l


def test_baths_lay_down_what_the_plant_s_cells_do(pair: tuple[LineRow, Configured]) -> None:
    line, works = pair
    baths = {bath.id: bath for bath in works.plan.baths}
    cells = {cell.id: cell for cell in line.cells}
    tanks = {plan.id: plan for plan in works.plan.tanks}
    for row in line.rectifiers:
        cell = cells[row.cell]
        for tank, _ in row.feeds:
            bath = baths[str(tanks[tank].bath)]
            if not cell.deposit:
                assert bath.deposit is None
                continue
            assert bath.deposit is not None
            assert dict(bath.deposit.parts) == pytest.approx(dict(cell.deposit))
            assert bath.deposit.efficiency.value == pytest.approx(cell.efficiency_ratio)


def test_dwells_of_the_timetable_fit_the_configured_limits(
    pair: tuple[LineRow, Configured],
) -> None:
    line, works = pair
    tanks = {plan.id: plan for plan in works.plan.tanks}
    for track in line.tracks:
        for stop in track.stops:
            plan = tanks[stop.tank]
            if plan.longest_dwell_s is not None:
                assert stop.dwell_s < plan.longest_dwell_s
            if plan.shortest_dwell_s is not None:
                assert stop.dwell_s > plan.shortest_dwell_s
