"""Faults of single sections, each told alone and in full: keys, values, names, solutions."""

import re

import pytest

from tests.config.changes import append, delete, put

CASES = {
    "an unknown key, with the one that was meant": (
        put("tank", 0, "voulme", "1 L"),
        "tank.nickel-1.voulme: unknown key; did you mean `volume`?",
    ),
    "an unknown key deep inside": (
        put("tank", 0, "window", "temperature", "lo_low", "1 degC"),
        "tank.nickel-1.window.temperature.lo_low: unknown key; did you mean `low_low`?",
    ),
    "an unknown key of a tag": (
        put("device", 0, "tag", 0, "read", "adress", 4),
        (
            "device.rectifier-unit.tag.rectifier-1.current.read.adress: unknown key; "
            "did you mean `address`?"
        ),
    ),
    "an unknown table": (
        put("pumps", {"id": "p"}),
        (
            "pumps: unknown table; the keys here are line, recipe, link, device, bath, tank, "
            "rectifier, route, part, permit, duty"
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
        put("rectifier", 0, "rated_current", 1500),
        'rectifier.rectifier-1.rated_current: 1500 has no unit; write it as text, as "12 A"',
    ),
    "a bare number in a window": (
        put("tank", 0, "window", "temperature", "low_low", 55),
        (
            "tank.nickel-1.window.temperature.low_low: 55 has no unit; write it as text, as "
            '"55 degC"'
        ),
    ),
    "a number that is no number": (
        put("device", 0, "tag", 0, "read", "scale", float("nan")),
        "device.rectifier-unit.tag.rectifier-1.current.read.scale: nan is no finite number",
    ),
    "text where a number belongs": (
        put("device", 0, "unit", "1"),
        "device.rectifier-unit.unit: '1' is no whole number",
    ),
    "a truth where a number belongs": (
        put("device", 0, "unit", bool(1)),
        "device.rectifier-unit.unit: True is no whole number",
    ),
    "a date where text belongs": (
        lambda document: document["line"].update(name=1979),
        'line.name: 1979 is no text; write it in quotes: "…"',
    ),
    "a word that is none of the known": (
        put("tank", 0, "kind", "plating"),
        re.compile(r"tank\.nickel-1\.kind: 'plating' is not known here; use 'load', 'clean', "),
    ),
    "an id that is none": (
        append("link", {"id": "Bus 2", "protocol": "modbus-tcp", "address": "a:1"}),
        (
            "link.Bus 2.id: 'Bus 2' is not written as it must be; id is short name in "
            "lower case, digits and dashes; it never changes"
        ),
    ),
    "something missing, with what it is": (
        delete("rectifier", 0, "feeds"),
        re.compile(r"rectifier\.rectifier-1\.feeds: missing"),
    ),
    "a rating of nothing": (
        put("rectifier", 0, "rated_voltage", "0 V"),
        "rectifier.rectifier-1.rated_voltage: '0 V' is too small; it must be above 0",
    ),
    "a share above the whole": (
        put("rectifier", 0, "area_tolerance", "120 %"),
        "rectifier.rectifier-1.area_tolerance: '120 %' is too large; the most is 100",
    ),
    "a doubled tank": (
        append("tank", {"id": "rinse-1", "name": "Second", "kind": "rinse"}),
        "tank.rinse-1: a tank and a tank have this id; give each a name of its own",
    ),
    "one id for a tank and a rectifier": (
        append("tank", {"id": "rectifier-1", "name": "Second", "kind": "rinse"}),
        (
            "rectifier.rectifier-1: a tank and a rectifier have this id; "
            "give each a name of its own"
        ),
    ),
    "a doubled link": (
        append("link", {"id": "cabinet", "protocol": "modbus-tcp", "address": "a:1"}),
        "link.cabinet: 2 of them have this id; rename the others",
    ),
    "a bath that does not exist, with those that do": (
        put("tank", 0, "bath", "nickle"),
        "tank.nickel-1.bath: no bath 'nickle'; did you mean 'nickel'?",
    ),
    "a link that does not exist": (
        put("device", 1, "link", "bus"),
        "device.controllers.link: no link 'bus'; use one of cabinet",
    ),
    "a fed tank that does not exist": (
        put("rectifier", 0, "feeds", [{"tank": "nickel-9"}]),
        (
            "rectifier.rectifier-1.feeds: no tank 'nickel-9'; did you mean 'nickel-1'? "
            "There are nickel-1, rinse-1"
        ),
    ),
    "a recipe that does not exist": (
        put("bath", 0, "recipe", "nickel-wats"),
        re.compile(
            r"bath\.nickel\.recipe: no recipe 'nickel-wats'; did you mean 'nickel-watts'"
        ),
    ),
    "a tag that tells of nothing": (
        put("device", 1, "tag", 1, "measures", "nickle-1.level"),
        re.compile(
            r"device\.controllers\.tag\.nickle-1\.level\.measures: no tank or rectifier "
            r"'nickle-1'; did you mean 'nickel-1'\?"
        ),
    ),
    "an unknown kind of measurement": (
        put("device", 1, "tag", 1, "measures", "nickel-1.levle"),
        re.compile(r"\.measures: no measurement 'levle'; did you mean 'level'\? There are "),
    ),
    "a window of an unknown kind": (
        put("tank", 0, "window", "temprature", {"low": "1 degC"}),
        re.compile(
            r"tank\.nickel-1\.window\.temprature: no measurement 'temprature'; did you mean "
            r"'temperature'"
        ),
    ),
    "a tag measured twice by two devices": (
        put("device", 1, "tag", 1, "measures", "rectifier-1.current"),
        (
            "device.controllers.tag.rectifier-1.current: measured by device 'rectifier-unit' "
            'already; tell twins apart: measures = "rectifier-1.current.second"'
        ),
    ),
    "a tag measured twice by one device": (
        put("device", 1, "tag", 1, "measures", "nickel-1.temperature"),
        re.compile(r"nickel-1\.temperature: measured by the same device already"),
    ),
    "shares that are no whole": (
        put(
            "rectifier",
            0,
            "feeds",
            [{"tank": "nickel-1", "share": "60 %"}, {"tank": "rinse-1", "share": "30 %"}],
        ),
        "rectifier.rectifier-1.feeds: the shares add up to 90 %; let them add up to 100 %",
    ),
    "a tank fed twice by one rectifier": (
        put(
            "rectifier",
            0,
            "feeds",
            [{"tank": "nickel-1", "share": "50 %"}, {"tank": "nickel-1", "share": "50 %"}],
        ),
        "rectifier.rectifier-1.feeds: tank 'nickel-1' stands 2 times; write it once",
    ),
    "a window inside out": (
        put("tank", 0, "window", "level", "low", "950 mm"),
        (
            "tank.nickel-1.window.level: low 950 mm is not below high 900 mm; "
            "let low_low < low < high rise"
        ),
    ),
    "a window inside out only together with its recipe": (
        put("tank", 0, "window", "temperature", "low_low", "58 degC"),
        re.compile(r"tank\.nickel-1\.window\.temperature: low_low 58 degC is not below low 55"),
    ),
    "metals that are no whole": (
        put("bath", 0, "metals", {"Ni(II)": "80 %"}),
        "bath.nickel.metals: the shares add up to 80 %; let them add up to 100 %",
    ),
    "an unknown metal": (
        put("bath", 0, "metals", {"Nickel": "100 %"}),
        re.compile(r"bath\.nickel\.metals: no metal 'Nickel'; "),
    ),
    "a curve that does not rise": (
        put(
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
        put("bath", 0, "efficiency", {"value": "90 %", "low": "95 %"}),
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
    "a bath that names no metal": (
        put("bath", 0, "metals", {}),
        'bath.nickel.metals: names no metal; write { "Ni(II)" = "100 %" }',
    ),
    "a curve of one point": (
        put("bath", 0, "efficiency", {"value": "90 %", "curve": [["2 A/dm2", "95 %"]]}),
        "bath.nickel.efficiency.curve: one point is no curve; write two, or only `value`",
    ),
    "an additive written twice": (
        lambda document: document["bath"][0]["additive"].append(
            {"id": "brightener", "name": "B", "dose": "1 mL/kA.h"}
        ),
        "bath.nickel.additive.brightener: written twice; give one another id",
    ),
    "a dose inside out": (
        put("bath", 0, "additive", 0, "largest_dose", "50 mL"),
        (
            "bath.nickel.additive.brightener: least dose 100 mL is above largest 50 mL; "
            "let them rise"
        ),
    ),
    "a recipe beside a bath": (
        put("tank", 0, "recipe", "nickel-watts"),
        "tank.nickel-1.recipe: its bath has one already; leave one of them out",
    ),
    "a table in a list of numbers": (
        put("device", 0, "readable", [[0, "x"]]),
        "device.rectifier-unit.readable.1.2: 'x' is no whole number",
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
