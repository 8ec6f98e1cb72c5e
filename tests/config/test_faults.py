"""Whatever is wrong with a file is told at once, with the key and what to write instead."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.config import read, read_text
from linewatch.config.text import why_not
from linewatch.core.errors import ConfigurationFaulty

EXAMPLE = (Path(__file__).parents[2] / "config" / "example.toml").read_text(encoding="utf-8")


def _set(*path: Any) -> Callable[[Any], None]:
    """Return a change that sets the value at a path; the value stands last."""
    *keys, last, value = path

    def change(document: Any) -> None:
        for key in keys:
            document = document[key]
        document[last] = value

    return change


def _delete(*path: Any) -> Callable[[Any], None]:
    *keys, last = path

    def change(document: Any) -> None:
        for key in keys:
            document = document[key]
        del document[last]

    return change


def _append(table: str, item: dict[str, object]) -> Callable[[Any], None]:
    return lambda document: document[table].append(item)


OPCUA = {
    "id": "ua",
    "protocol": "opcua",
    "address": "opc.tcp://127.0.0.1:4840",
    "security": "none",
}


def _opcua_tag(**read: Any) -> Callable[[Any], None]:
    """Return a change that adds an OPC UA link with one tag."""
    read = {"namespace": "urn:bath", **read}

    def change(document: Any) -> None:
        document["link"].append(OPCUA)
        item = {key: value for key, value in read.items() if value is not None}
        tag = {"measures": "nickel-1.ph", "read": item}
        document["device"].append({"id": "server", "link": "ua", "tag": [tag]})

    return change


CASES = {
    "an unknown key, with the one that was meant": (
        _set("tank", 0, "voulme", "1 L"),
        "tank.nickel-1.voulme: unknown key; did you mean `volume`?",
    ),
    "an unknown key deep inside": (
        _set("tank", 0, "window", "temperature", "lo_low", "1 degC"),
        "tank.nickel-1.window.temperature.lo_low: unknown key; did you mean `low_low`?",
    ),
    "an unknown key of a tag": (
        _set("device", 0, "tag", 0, "read", "adress", 4),
        (
            "device.rectifier-unit.tag.rectifier-1.current.read.adress: unknown key; "
            "did you mean `address`?"
        ),
    ),
    "an unknown table": (
        _set("pumps", {"id": "p"}),
        (
            "pumps: unknown table; the keys here are line, recipe, link, device, bath, tank, "
            "rectifier"
        ),
    ),
    "one table where there may be many": (
        lambda document: (
            document.pop("link"),
            document.update(
                link={"id": "cabinet", "protocol": "modbus-tcp", "address": "cabinet:502"}
            ),
        ),
        "link: is one table; write [[link]], once for each link",
    ),
    "a bare number where a unit matters": (
        _set("rectifier", 0, "rated_current", 1500),
        'rectifier.rectifier-1.rated_current: 1500 has no unit; write it as text, as "12 A"',
    ),
    "a bare number in a window": (
        _set("tank", 0, "window", "temperature", "low_low", 55),
        (
            "tank.nickel-1.window.temperature.low_low: 55 has no unit; write it as text, as "
            '"55 degC"'
        ),
    ),
    "a number that is no number": (
        _set("device", 0, "tag", 0, "read", "scale", float("nan")),
        "device.rectifier-unit.tag.rectifier-1.current.read.scale: nan is no finite number",
    ),
    "text where a number belongs": (
        _set("device", 0, "unit", "1"),
        "device.rectifier-unit.unit: '1' is no whole number",
    ),
    "a truth where a number belongs": (
        _set("device", 0, "unit", bool(1)),
        "device.rectifier-unit.unit: True is no whole number",
    ),
    "a date where text belongs": (
        lambda document: document["line"].update(name=1979),
        'line.name: 1979 is no text; write it in quotes: "…"',
    ),
    "a word that is none of the known": (
        _set("tank", 0, "kind", "plating"),
        re.compile(r"tank\.nickel-1\.kind: 'plating' is not known here; use 'load', 'clean', "),
    ),
    "an id that is none": (
        _append("link", {"id": "Bus 2", "protocol": "modbus-tcp", "address": "a:1"}),
        (
            "link.Bus 2.id: 'Bus 2' is not written as it must be; id is short name in "
            "lower case, digits and dashes; it never changes"
        ),
    ),
    "something missing, with what it is": (
        _delete("rectifier", 0, "feeds"),
        re.compile(r"rectifier\.rectifier-1\.feeds: missing"),
    ),
    "a rating of nothing": (
        _set("rectifier", 0, "rated_voltage", "0 V"),
        "rectifier.rectifier-1.rated_voltage: '0 V' is too small; it must be above 0",
    ),
    "a share above the whole": (
        _set("rectifier", 0, "area_tolerance", "120 %"),
        "rectifier.rectifier-1.area_tolerance: '120 %' is too large; the most is 100",
    ),
    "a doubled tank": (
        _append("tank", {"id": "rinse-1", "name": "Second", "kind": "rinse"}),
        "tank.rinse-1: a tank and a tank have this id; give each a name of its own",
    ),
    "one id for a tank and a rectifier": (
        _append("tank", {"id": "rectifier-1", "name": "Second", "kind": "rinse"}),
        (
            "rectifier.rectifier-1: a tank and a rectifier have this id; "
            "give each a name of its own"
        ),
    ),
    "a doubled link": (
        _append("link", {"id": "cabinet", "protocol": "modbus-tcp", "address": "a:1"}),
        "link.cabinet: 2 of them have this id; rename the others",
    ),
    "a bath that does not exist, with those that do": (
        _set("tank", 0, "bath", "nickle"),
        "tank.nickel-1.bath: no bath 'nickle'; did you mean 'nickel'?",
    ),
    "a link that does not exist": (
        _set("device", 1, "link", "bus"),
        "device.controllers.link: no link 'bus'; use one of cabinet",
    ),
    "a fed tank that does not exist": (
        _set("rectifier", 0, "feeds", [{"tank": "nickel-9"}]),
        (
            "rectifier.rectifier-1.feeds: no tank 'nickel-9'; did you mean 'nickel-1'? "
            "There are nickel-1, rinse-1"
        ),
    ),
    "a recipe that does not exist": (
        _set("bath", 0, "recipe", "nickel-wats"),
        re.compile(
            r"bath\.nickel\.recipe: no recipe 'nickel-wats'; did you mean 'nickel-watts'"
        ),
    ),
    "a tag that tells of nothing": (
        _set("device", 1, "tag", 1, "measures", "nickle-1.level"),
        re.compile(
            r"device\.controllers\.tag\.nickle-1\.level\.measures: no tank or rectifier "
            r"'nickle-1'; did you mean 'nickel-1'\?"
        ),
    ),
    "an unknown kind of measurement": (
        _set("device", 1, "tag", 1, "measures", "nickel-1.levle"),
        re.compile(r"\.measures: no measurement 'levle'; did you mean 'level'\? There are "),
    ),
    "a window of an unknown kind": (
        _set("tank", 0, "window", "temprature", {"low": "1 degC"}),
        re.compile(
            r"tank\.nickel-1\.window\.temprature: no measurement 'temprature'; did you mean "
            r"'temperature'"
        ),
    ),
    "a tag measured twice by two devices": (
        _set("device", 1, "tag", 1, "measures", "rectifier-1.current"),
        (
            "device.controllers.tag.rectifier-1.current: measured by device 'rectifier-unit' "
            'already; tell twins apart: measures = "rectifier-1.current.second"'
        ),
    ),
    "a tag measured twice by one device": (
        _set("device", 1, "tag", 1, "measures", "nickel-1.temperature"),
        re.compile(r"nickel-1\.temperature: measured by the same device already"),
    ),
    "shares that are no whole": (
        _set(
            "rectifier",
            0,
            "feeds",
            [{"tank": "nickel-1", "share": "60 %"}, {"tank": "rinse-1", "share": "30 %"}],
        ),
        "rectifier.rectifier-1.feeds: the shares add up to 90 %; let them add up to 100 %",
    ),
    "a tank fed twice by one rectifier": (
        _set(
            "rectifier",
            0,
            "feeds",
            [{"tank": "nickel-1", "share": "50 %"}, {"tank": "nickel-1", "share": "50 %"}],
        ),
        "rectifier.rectifier-1.feeds: tank 'nickel-1' stands 2 times; write it once",
    ),
    "a window inside out": (
        _set("tank", 0, "window", "level", "low", "950 mm"),
        (
            "tank.nickel-1.window.level: low 950 mm is not below high 900 mm; "
            "let low_low < low < high rise"
        ),
    ),
    "a window inside out only together with its recipe": (
        _set("tank", 0, "window", "temperature", "low_low", "58 degC"),
        re.compile(r"tank\.nickel-1\.window\.temperature: low_low 58 degC is not below low 55"),
    ),
    "metals that are no whole": (
        _set("bath", 0, "metals", {"Ni(II)": "80 %"}),
        "bath.nickel.metals: the shares add up to 80 %; let them add up to 100 %",
    ),
    "an unknown metal": (
        _set("bath", 0, "metals", {"Nickel": "100 %"}),
        re.compile(r"bath\.nickel\.metals: no metal 'Nickel'; "),
    ),
    "a curve that does not rise": (
        _set(
            "bath",
            0,
            "efficiency",
            {"value": "90 %", "curve": [["2 A/dm2", "95 %"], ["1 A/dm2", "90 %"]]},
        ),
        (
            "bath.nickel.efficiency.curve: 1 A/dm2 does not rise above 2 A/dm2; "
            "let the current densities rise"
        ),
    ),
    "an efficiency outside its own range": (
        _set("bath", 0, "efficiency", {"value": "90 %", "low": "95 %"}),
        re.compile(r"bath\.nickel\.efficiency: low 95 %, value 90 %, high 90 % do not rise"),
    ),
    "metals without an efficiency": (
        lambda document: (
            document["bath"][0].update(metals={"Ni(II)": "100 %"}),
            document["bath"][0].pop("recipe"),
            document["tank"][0].pop("alarm"),
        ),
        "bath.nickel.efficiency: missing; a bath with metals states its efficiency",
    ),
    "an address below the manual's first": (
        _set("device", 0, "tag", 0, "read", "address", 40000),
        (
            "device.rectifier-unit.tag.rectifier-1.current.read.address: 40000 is no holding "
            "address of a device with base 40001; it lies from 40001 to 49999"
        ),
    ),
    "a value that reaches past the last register": (
        _set("device", 0, "tag", 2, "read", "address", 49999),
        re.compile(r"49999 is no holding address .*; it lies from 40001 to 49998"),
    ),
    "a register without a type": (
        _delete("device", 1, "tag", 0, "read", "type"),
        re.compile(r"nickel-1\.temperature\.read\.type: missing; there is no safe guess"),
    ),
    "a register without an address": (
        _delete("device", 1, "tag", 0, "read", "address"),
        re.compile(r"nickel-1\.temperature\.read\.address: missing"),
    ),
    "an OPC UA node on a Modbus link": (
        _set("device", 1, "tag", 0, "read", "node", "s=T"),
        re.compile(r"read\.node: only OPC UA has nodes"),
    ),
    "a thermocouple whose terminal nobody measures": (
        _set("device", 1, "tag", 0, "read", "sensor", "tc-k-mv"),
        re.compile(r"read\.cold_junction: missing; name the tag"),
    ),
    "a cold junction that is no tag": (
        lambda document: document["device"][1]["tag"][0]["read"].update(
            sensor="tc-k-mv", cold_junction="cabinet.temperature"
        ),
        re.compile(r"read\.cold_junction: no tag of its link 'cabinet\.temperature'"),
    ),
    "a sensor's unit of another dimension": (
        _set("device", 1, "tag", 0, "read", "unit", "bar"),
        (
            "device.controllers.tag.nickel-1.temperature.read.unit: no temperature in 'bar'; "
            "use one of degC, degF, degK"
        ),
    ),
    "a loop that spans nothing": (
        _set(
            "device",
            1,
            "tag",
            1,
            "read",
            "signal",
            {"counts_at_4ma": 0, "counts_at_20ma": 0, "low": "0 mm", "high": "900 mm"},
        ),
        re.compile(r"nickel-1\.level\.read\.signal: both counts are the same"),
    ),
    "a link to nowhere": (
        _set("link", 0, "address", "cabinet"),
        "link.cabinet.address: 'cabinet' is no host and port; write \"host:port\"",
    ),
    "a port that cannot be": (
        _set("link", 0, "address", "cabinet:70000"),
        "link.cabinet.address: 'cabinet:70000' is no host and port; write \"host:port\"",
    ),
    "an alarm on something that nobody measures": (
        _set("tank", 0, "alarm", 0, "of", "ph"),
        re.compile(r"tank\.nickel-1\.alarm\.ph\.low\.of: no tag here measures 'ph'"),
    ),
    "an alarm without a limit anywhere": (
        _set("tank", 0, "alarm", [{"when": "rate", "of": "temperature"}]),
        (
            "tank.nickel-1.alarm.temperature.rate.limit: missing; neither here nor in "
            "the window is a limit"
        ),
    ),
    "a limit that a tag can never reach": (
        _set("device", 1, "tag", 1, "high", "850 mm"),
        (
            "device.controllers.tag.nickel-1.level: high 900 of its window is beyond what it "
            "reads, -50 to 850; widen the tag's `low` and `high`, or correct the window"
        ),
    ),
    "a flood that ends above its beginning": (
        _set("line", "flood_end", 12.0),
        re.compile(r"line\.flood_end: 12 is above flood_start 10; a flood ends with fewer"),
    ),
    "a cut-off that hides all current": (
        _set("rectifier", 0, "zero_cutoff", "1500 A"),
        re.compile(r"rectifier-1\.zero_cutoff: 1500 A is no less than the rated current"),
    ),
    "half a pulse": (
        _set("rectifier", 0, "pulse_on", "10 ms"),
        re.compile(r"rectifier-1\.pulse_off: missing; a pulse has an on-time and an off-time"),
    ),
    "a meter that counts one step": (
        _set("rectifier", 0, "meter_resolution", "100 kA.h"),
        re.compile(r"rectifier-1\.meter_resolution: 100000 A\.h is no less than meter_modulus"),
    ),
    "two links on one serial port": (
        lambda document: [
            document["link"].append({"id": name, "protocol": "modbus-rtu", "address": "/dev/x"})
            for name in ("bus-1", "bus-2")
        ],
        (
            "link.bus-2.address: '/dev/x' is the port of bus-1 and bus-2; "
            "put all units of one bus on one link"
        ),
    ),
    "a dwell inside out": (
        _set("tank", 0, "shortest_dwell", "1 h"),
        "tank.nickel-1.shortest_dwell: 3600 s is above longest_dwell 2400 s; let them rise",
    ),
    "a password in the configuration": (
        _set("link", 0, "password", "geheim"),
        (
            "link.cabinet.password: unknown key; secrets never stand in a configuration; "
            'name a file or "env:NAME" in `secrets`'
        ),
    ),
    "a control character": (
        _set("tank", 0, "name", "Nickel\x1b[2J"),
        (
            "tank.nickel-1.name: 'Nickel\\x1b[2J' holds a control character; write it "
            "on one line, without escapes"
        ),
    ),
    "security without a certificate to trust": (
        _append(
            "link",
            {
                "id": "ua",
                "protocol": "opcua",
                "address": "opc.tcp://127.0.0.1:4840",
                "security": "sign",
            },
        ),
        (
            "link.ua.certificate: missing; with security, name the server's certificate; "
            "no other is trusted"
        ),
    ),
    "an OPC UA link that leaves its security open": (
        _append(
            "link", {"id": "ua", "protocol": "opcua", "address": "opc.tcp://127.0.0.1:4840"}
        ),
        re.compile(r'link\.ua\.security: missing; write "sign-and-encrypt", or "none" where'),
    ),
    "an own certificate without its key": (
        _append("link", {**OPCUA, "own_certificate": "ours.der"}),
        re.compile(r"link\.ua\.own_key: a certificate and its key go together"),
    ),
    "a node with a namespace index": (
        _opcua_tag(node="ns=2;s=T"),
        re.compile(r"nickel-1\.ph\.read\.node: 'ns=2;s=T' is no node id; write \"s=Bath.pH\""),
    ),
    "a node without a namespace": (
        _opcua_tag(node="s=T", namespace=None),
        re.compile(r"nickel-1\.ph\.read\.namespace: missing; name the node's namespace URI"),
    ),
    "a register on an OPC UA link": (
        _opcua_tag(node="s=T", address=4),
        re.compile(r"nickel-1\.ph\.read\.address: an OPC UA item has none"),
    ),
    "an OPC UA endpoint that is none": (
        _append("link", {**OPCUA, "address": "127.0.0.1:4840"}),
        (
            "link.ua.address: '127.0.0.1:4840' is no OPC UA endpoint; write "
            '"opc.tcp://host:port"'
        ),
    ),
}


@pytest.mark.parametrize(("change", "told"), CASES.values(), ids=CASES.keys())
def test_told_alone_and_in_full(faults, change, told):
    found = faults(change)

    assert len(found) == 1, found
    if isinstance(told, str):
        assert found[0] == told
    else:
        assert told.search(found[0]), found[0]


def test_two_faults_of_one_section_and_two_of_others_are_told_together(faults):
    found = faults(
        _set("tank", 0, "voulme", "1 L"),
        _set("tank", 0, "bath", "nickle"),
        _set("device", 1, "tag", 1, "measures", "nickel-1.levle"),
        _set("rectifier", 0, "rated_current", "1500 V"),
    )

    assert len(found) == 4
    for key in (
        "tank.nickel-1.voulme",
        "tank.nickel-1.bath",
        "device.controllers.tag.nickel-1.levle.measures",
        "rectifier.rectifier-1.rated_current",
    ):
        assert any(each.startswith(f"{key}: ") for each in found), key


def test_all_faults_of_the_table_that_can_stand_together_are_told_together(faults):
    alone = {
        name: case
        for name, case in CASES.items()
        if name
        in {
            "an unknown key of a tag",
            "a bare number in a window",
            "a doubled link",
            "a recipe that does not exist",
            "a register without a type",
            "a dwell inside out",
            "a password in the configuration",
            "a share above the whole",
        }
    }

    found = faults(*(change for change, _ in alone.values()))

    for name, (_, told) in alone.items():
        pattern = told if isinstance(told, re.Pattern) else re.compile(re.escape(told))
        assert any(pattern.search(each) for each in found), name


def test_a_faulty_tank_still_exists_for_those_who_name_it(faults):
    found = faults(_delete("tank", 0, "kind"))

    assert [each.split(":")[0] for each in found] == ["tank.nickel-1.kind"]


def test_a_wrong_dimension_names_what_was_written_and_the_unit(faults):
    (found,) = faults(_set("rectifier", 0, "rated_current", "1500 V"))

    assert found == (
        "rectifier.rectifier-1.rated_current: '1500 V' is no current; "
        "V is a voltage; write it in A"
    )


def test_the_message_names_the_file_with_every_fault(changed):
    with pytest.raises(ConfigurationFaulty) as faulty:
        read_text(changed(_set("tank", 0, "voulme", "1 L"), _delete("line")), "line.toml")

    lines = str(faulty.value).splitlines()
    assert len(lines) == 2
    assert all(line.startswith("line.toml: ") for line in lines)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "line: missing"),
        ("[line]\nid = 'a'\nname = \n", "line 3, column 8: invalid value"),
        ("[line]\nid = 'a'\nid = 'b'\n", "line 3, column 9: cannot overwrite a value"),
        ("x = " + "[" * 5000, "nested too deep"),
        ("line = 3", "line: 3 is no table"),
        ("tank = [1, 2]\n[line]\nid='a'\nname='A'", "tank.1: 1 is no table; write [[tank]]"),
    ],
    ids=["empty", "no value", "twice", "deep", "no table", "no tables"],
)
def test_what_is_no_configuration_is_told_with_its_line(text, told):
    with pytest.raises(ConfigurationFaulty) as faulty:
        read_text(text, "line.toml")

    assert any(each.startswith(told) for each in faulty.value.faults), faulty.value.faults


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\x7fELF\x00\x01", "it is no text file; name a configuration file"),
        (
            "[line]\nname = 'Gr\u00fcn'".encode("utf-16"),
            "it is written in UTF-16; save it as UTF-8",
        ),
        (
            "[line]\nname = 'Gr\u00fcn'".encode("latin-1"),
            "line 2: byte 0xFC is no UTF-8; save the file as UTF-8",
        ),
        (b"#" * (16 * 1024 * 1024 + 1), "larger than 16 MiB; name a configuration file"),
    ],
    ids=["binary", "utf-16", "latin-1", "huge"],
)
def test_a_file_that_cannot_be_read_as_text_is_told(tmp_path, content, told):
    file = tmp_path / "line.toml"
    file.write_bytes(content)

    with pytest.raises(ConfigurationFaulty) as faulty:
        read(file)

    assert faulty.value.faults == (told,)
    assert str(faulty.value) == f"{file}: {told}"


def test_a_missing_file_is_told_with_the_files_that_are_there(tmp_path):
    (tmp_path / "rack.toml").write_text("")

    with pytest.raises(
        ConfigurationFaulty, match=r"no such file; in that folder are rack\.toml"
    ):
        read(tmp_path / "rakc.toml")


def test_a_folder_is_told(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="it is a folder; name a file in it"):
        read(tmp_path)


def test_a_name_that_no_file_can_have_is_told(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="it cannot be read"):
        read(tmp_path / "a\x00b")


def test_a_byte_order_mark_is_no_fault(tmp_path):
    file = tmp_path / "line.toml"
    file.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.encode())

    assert read(file).text == EXAMPLE


LINES = EXAMPLE.splitlines()
ODD = [
    "1", "-1", "1e400", "nan", "true", "'x'", "[]", "[[]]", "{}", "''", "1979-05-27",
    "[1, 'a', {b = 2}]", "{a = {b = 1}}", "10" * 400, "'nan degC'", "'inf A'", "'1e308 kA.h'",
]  # fmt: skip
ACTS = ("drop", "double", "swap", "cut", "splice", "value")


def damaged(line: str, act: str, other: str, text: str) -> list[str]:
    """Return what becomes of a line."""
    odd = ODD[len(text) % len(ODD)]
    return {
        "drop": [],
        "double": [line, line],
        "swap": [other],
        "cut": [line[: len(text)]],
        "splice": [line + text],
        "value": [f"{line.split('=', maxsplit=1)[0]}= {odd}"],
    }[act]


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(LINES) - 1),
            st.sampled_from(ACTS),
            st.sampled_from(LINES),
            st.text(max_size=40),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_no_damage_to_a_file_ever_gives_anything_but_works_or_faults(damages):
    lines = list(LINES)
    for place, act, other, text in damages:
        at = place % max(1, len(lines))
        lines[at : at + 1] = damaged(lines[at], act, other, text) if lines else [other]

    told: tuple[str, ...] = ("",)
    works = None
    try:
        works = read_text("\n".join(lines), "line.toml")
    except ConfigurationFaulty as faulty:
        told = faulty.faults

    assert (works is None) == all(told)
    assert all("\n" not in fault for fault in told)


def test_a_file_that_may_not_be_read_is_told():
    refusal = PermissionError(13, "Permission denied")

    assert why_not(Path("line.toml"), refusal).startswith("it may not be read by you; ask")
