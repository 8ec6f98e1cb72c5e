"""A configuration in, the works that it describes out."""

import hashlib
from pathlib import Path

import pytest

from linewatch.config import read, read_text
from linewatch.config.faults import Faults
from linewatch.config.library import shipped
from linewatch.config.sections import sections_of
from linewatch.config.works import parsed
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.plan import Window

EXAMPLE = Path(__file__).parents[2] / "config" / "example.toml"
NS = 1_000_000_000


@pytest.fixture(scope="module")
def works():
    return read(EXAMPLE)


def test_the_example_describes_one_link_one_rectifier_and_two_tanks(works):
    assert [link.link.id for link in works.links] == ["cabinet"]
    assert [each.id for each in works.plan.rectifiers] == ["rectifier-1"]
    assert [each.id for each in works.plan.tanks] == ["nickel-1", "rinse-1"]


def test_the_fingerprint_is_the_hash_of_the_text(works):
    assert works.text.startswith(EXAMPLE.read_text(encoding="utf-8").rstrip())
    assert works.fingerprint == hashlib.sha256(works.text.encode()).hexdigest()
    assert works.plan.fingerprint == works.fingerprint


def test_quantities_arrive_in_the_cores_units(works):
    rectifier = works.plan.rectifiers[0]
    (bath,) = works.plan.baths

    assert rectifier.meter_modulus_ah == 100_000
    assert rectifier.feeds == (("nickel-1", 1.0),)
    assert works.plan.tanks[0].longest_dwell_s == 2400
    assert bath.additives[0].dose_ml_per_kah == 150
    assert works.plan.tags["rectifier-1.current"].class_ratio == pytest.approx(0.005)
    assert works.plan.tags["nickel-1.temperature"].class_absolute == 1.0


def test_a_bath_takes_metal_and_efficiency_from_its_recipe(works):
    (bath,) = works.plan.baths

    assert bath.recipe == "nickel-watts"
    assert bath.deposit is not None
    assert bath.deposit.parts == (("Ni(II)", 1.0),)
    assert bath.deposit.efficiency.low < bath.deposit.efficiency.value


def test_every_tag_stands_in_the_layout_of_its_device_and_period(works):
    layouts = {layout.device: layout for layout in works.plan.layouts}

    assert layouts["rectifier-unit"].period_ns == NS
    assert layouts["controllers"].period_ns == 5 * NS
    assert layouts["controllers"].tags == (
        "nickel-1.temperature",
        "nickel-1.level",
        "rinse-1.conductivity",
    )
    assert {tag for layout in works.plan.layouts for tag in layout.tags} == set(works.plan.tags)


def test_a_tag_with_a_period_of_its_own_gets_a_layout_of_its_own(changed):
    def slower(document):
        document["device"][1]["tag"][1]["period"] = "1 min"

    works = read_text(changed(slower), "line.toml")
    (poll,) = (each for each in works.links[0].devices if each.device.id == "controllers")

    assert [layout.period_ns for layout in poll.layouts] == [5 * NS, 60 * NS]
    assert [layout.tags for layout in poll.layouts] == [
        ("nickel-1.temperature", "rinse-1.conductivity"),
        ("nickel-1.level",),
    ]


def test_manuals_that_count_from_40001_are_read_from_0_on_the_wire(works):
    rectifier, controllers = works.links[0].devices

    assert [tag.address for tag in rectifier.tags] == [0, 1, 2]
    assert [tag.address for tag in controllers.tags] == [0, 1, 2]


@pytest.mark.parametrize(
    ("base", "table", "written", "wire"),
    [
        (0, "holding", 107, 107),
        (1, "holding", 108, 107),
        # Examples of the MODBUS Application Protocol Specification V1.1b3: register 108 is
        # 0x006B (6.3), discrete input 197 is 0x00C4 (6.2), coil 20 is 0x0013 (6.1).
        (40001, "holding", 40108, 107),
        (400001, "holding", 465536, 65535),
        (40001, "input", 30001, 0),
        (30001, "input", 30108, 107),
        (300001, "input", 300108, 107),
        (40001, "discrete", 10197, 196),
        (40001, "coil", 20, 19),
    ],
)
def test_an_address_is_read_in_the_style_of_the_manual(changed, base, table, written, wire):
    def rewrite(document):
        device = document["device"][1]
        device["base"] = base
        while len(device["tag"]) > 1:
            del device["tag"][-1]
        read = {"table": table, "address": written}
        if table in {"holding", "input"}:
            read["type"] = "int16"
        device["tag"][0]["read"] = read

    works = read_text(changed(rewrite), "line.toml")

    assert works.links[0].devices[1].tags[0].address == wire


def test_other_link_addresses_leave_the_rest_of_the_text_alone(works):
    moved = works.with_addresses({"cabinet": "127.0.0.1:40123"})

    assert moved.links[0].link.address == "127.0.0.1:40123"
    assert moved.text == works.text.replace("127.0.0.1:5020", "127.0.0.1:40123")
    assert moved.fingerprint != works.fingerprint


def test_a_faulty_new_address_is_told(works):
    with pytest.raises(ConfigurationFaulty, match=r"link\.cabinet\.address: 'nowhere' is no"):
        works.with_addresses({"cabinet": "nowhere"})


def test_an_address_for_a_link_that_does_not_exist_is_told(works):
    with pytest.raises(ConfigurationFaulty, match=r"link\.cabinett: no link .* 'cabinet'\?"):
        works.with_addresses({"cabinett": "127.0.0.1:1"})


def test_tanks_stand_track_by_track_in_the_order_of_the_file(changed):
    def tracks(document):
        for number, track in enumerate(("barrel", "rack", "barrel")):
            document["tank"].append(
                {"id": f"t{number}", "name": f"T{number}", "kind": "rinse", "track": track}
            )

    works = read_text(changed(tracks), "line.toml")

    assert [tank.id for tank in works.plan.tanks] == ["nickel-1", "rinse-1", "t1", "t0", "t2"]


def test_a_window_is_inherited_limit_by_limit(works):
    assert works.plan.tags["nickel-1.temperature"].window == Window(
        low_low=50.0,
        low=55.0,
        high=65.0,
        high_high=68.0,
        source="our process sheet 12; common practice",
    )


def test_the_tank_comes_before_the_bath_and_the_bath_before_its_recipe(changed):
    def windows(document):
        document["bath"][0]["window"] = {"temperature": {"low": "57 degC", "high": "63 degC"}}
        document["tank"][0]["window"]["temperature"] = {"high": "62 degC"}

    window = read_text(changed(windows), "line.toml").plan.tags["nickel-1.temperature"].window

    assert (window.low, window.high) == (57.0, 62.0)


def test_a_window_is_kept_for_hand_readings_where_no_tag_measures(works):
    assert works.plan.tanks[0].windows["ph"].low == 3.8
    assert "nickel-1.ph" not in works.plan.tags


def test_a_position_without_a_bath_may_name_a_recipe(changed):
    def recipe(document):
        del document["tank"][1]["window"]
        document["tank"][1]["recipe"] = "rinse-after-nickel"

    window = read_text(changed(recipe), "line.toml").plan.tags["rinse-1.conductivity"].window

    assert window.high == 700.0


def test_twins_share_the_window_of_their_kind_unless_they_have_their_own(changed):
    def twins(document):
        for name in ("back", "outlet"):
            document["device"][1]["tag"].append(
                {
                    "measures": f"nickel-1.temperature.{name}",
                    "read": {"address": 9, "type": "int16"},
                }
            )
        document["tank"][0]["window"]["temperature.outlet"] = {"low": "20 degC"}

    tags = read_text(changed(twins), "line.toml").plan.tags

    assert tags["nickel-1.temperature.back"].window.high_high == 68.0
    assert tags["nickel-1.temperature.outlet"].window.low == 20.0


def test_a_file_in_another_system_of_units_gives_the_same_plan(changed, works):
    def american(document):
        document["tank"][0]["window"]["temperature"] = {
            "low_low": "122 degF",
            "high_high": "154.4 degF",
            "source": "our process sheet 12",
        }

    window = read_text(changed(american), "line.toml").plan.tags["nickel-1.temperature"].window

    assert window.low_low == pytest.approx(50.0)
    assert window.high_high == pytest.approx(68.0)


def test_a_links_files_lie_beside_the_configuration(changed, tmp_path):
    def secured(document):
        document["link"].append(
            {
                "id": "ua",
                "protocol": "opcua",
                "address": "opc.tcp://127.0.0.1:4840",
                "security": "sign",
                "certificate": "server.der",
                "secrets": "env:UA",
            }
        )

    file = tmp_path / "line.toml"
    file.write_text(changed(secured), encoding="utf-8")

    link = read(file).links[1].link

    assert link.certificate == str(tmp_path / "server.der")
    assert link.secrets == "env:UA"


def test_a_text_that_was_in_force_holds_the_recipes_that_it_names(works):
    held = sections_of(parsed(works.text, "text"), Faults()).recipes
    again = read_text(works.text, "again")

    assert {recipe.id for recipe in held} == {"nickel-watts"}
    assert again.text == works.text
    assert again.fingerprint == works.fingerprint
    assert again.plan.baths == works.plan.baths
    assert again.plan.conditions == works.plan.conditions


def test_another_library_cannot_change_what_was_in_force(works, monkeypatch):
    monkeypatch.setattr("linewatch.config.works.library", dict)
    monkeypatch.setattr("linewatch.config.works.library_texts", dict)

    assert read_text(works.text, "later").plan == works.plan


@pytest.mark.parametrize("name", ["demo.toml", "first-line.toml", "example.toml"])
def test_every_shipped_configuration_stands_for_itself(name):
    once = read(shipped() / name)

    assert read_text(once.text, name).fingerprint == once.fingerprint
