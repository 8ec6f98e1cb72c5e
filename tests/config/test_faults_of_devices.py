"""Faults of links, devices, tags and alarms, each told alone and in full."""

import re

import pytest

from tests.config.changes import OPCUA, append, delete, opcua_tag, put

CASES = {
    "an address below the manual's first": (
        put("device", 0, "tag", 0, "read", "address", 40000),
        (
            "device.rectifier-unit.tag.rectifier-1.current.read.address: 40000 is no holding "
            "address of a device with base 40001; it lies from 40001 to 49999"
        ),
    ),
    "a value that reaches past the last register": (
        put("device", 0, "tag", 2, "read", "address", 49999),
        re.compile(r"49999 is no holding address .*; it lies from 40001 to 49998"),
    ),
    "a register without a type": (
        delete("device", 1, "tag", 0, "read", "type"),
        re.compile(r"nickel-1\.temperature\.read\.type: missing; there is no safe guess"),
    ),
    "a register without an address": (
        delete("device", 1, "tag", 0, "read", "address"),
        re.compile(r"nickel-1\.temperature\.read\.address: missing"),
    ),
    "an OPC UA node on a Modbus link": (
        put("device", 1, "tag", 0, "read", "node", "s=T"),
        re.compile(r"read\.node: only OPC UA has one"),
    ),
    "a thermocouple whose terminal nobody measures": (
        put("device", 1, "tag", 0, "read", "sensor", "tc-k-mv"),
        re.compile(r"read\.cold_junction: missing; name the tag"),
    ),
    "a cold junction that is no tag": (
        lambda document: document["device"][1]["tag"][0]["read"].update(
            sensor="tc-k-mv", cold_junction="cabinet.temperature"
        ),
        re.compile(r"read\.cold_junction: no tag of its link 'cabinet\.temperature'"),
    ),
    "a sensor's unit of another dimension": (
        put("device", 1, "tag", 0, "read", "unit", "bar"),
        (
            "device.controllers.tag.nickel-1.temperature.read.unit: no temperature in 'bar'; "
            "use one of degC, degF, degK"
        ),
    ),
    "a loop that spans nothing": (
        put(
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
        put("link", 0, "address", "cabinet"),
        "link.cabinet.address: 'cabinet' is no host and port; write \"host:port\"",
    ),
    "a port that cannot be": (
        put("link", 0, "address", "cabinet:70000"),
        "link.cabinet.address: 'cabinet:70000' is no host and port; write \"host:port\"",
    ),
    "an alarm on something that nobody measures": (
        put("tank", 0, "alarm", 0, "of", "ph"),
        re.compile(r"tank\.nickel-1\.alarm\.ph\.low\.of: no tag here measures 'ph'"),
    ),
    "an alarm without a limit anywhere": (
        put("tank", 0, "alarm", [{"when": "rate", "of": "temperature"}]),
        (
            "tank.nickel-1.alarm.temperature.rate.limit: missing; neither here nor in "
            "the window is a limit"
        ),
    ),
    "a limit that a tag can never reach": (
        put("device", 1, "tag", 1, "high", "850 mm"),
        (
            "device.controllers.tag.nickel-1.level: high 900 of its window is beyond what it "
            "reads, -50 to 850; widen the tag's `low` and `high`, or correct the window"
        ),
    ),
    "a flood that ends above its beginning": (
        put("line", "flood_end", 12.0),
        re.compile(r"line\.flood_end: 12 is above flood_start 10; a flood ends with fewer"),
    ),
    "a cut-off that hides all current": (
        put("rectifier", 0, "zero_cutoff", "1500 A"),
        re.compile(r"rectifier-1\.zero_cutoff: 1500 A is no less than the rated current"),
    ),
    "half a pulse": (
        put("rectifier", 0, "pulse_on", "10 ms"),
        re.compile(r"rectifier-1\.pulse_off: missing; a pulse has an on-time and an off-time"),
    ),
    "a meter that counts one step": (
        put("rectifier", 0, "meter_resolution", "100 kA.h"),
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
        put("tank", 0, "shortest_dwell", "1 h"),
        "tank.nickel-1.shortest_dwell: 3600 s is above longest_dwell 2400 s; let them rise",
    ),
    "a password in the configuration": (
        put("link", 0, "password", "geheim"),
        (
            "link.cabinet.password: unknown key; secrets never stand in a configuration; "
            'name a file or "env:NAME" in `secrets`'
        ),
    ),
    "a control character": (
        put("tank", 0, "name", "Nickel\x1b[2J"),
        (
            "tank.nickel-1.name: 'Nickel\\x1b[2J' holds a control character; write it "
            "on one line, without escapes"
        ),
    ),
    "security without a certificate to trust": (
        append(
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
        append(
            "link", {"id": "ua", "protocol": "opcua", "address": "opc.tcp://127.0.0.1:4840"}
        ),
        re.compile(r'link\.ua\.security: missing; write "sign-and-encrypt", or "none" where'),
    ),
    "an own certificate without its key": (
        append("link", {**OPCUA, "own_certificate": "ours.der"}),
        re.compile(r"link\.ua\.own_key: a certificate and its key go together"),
    ),
    "a node with a namespace index": (
        opcua_tag(node="ns=2;s=T"),
        re.compile(r"nickel-1\.ph\.read\.node: 'ns=2;s=T' is no node id; write \"s=Bath.pH\""),
    ),
    "a node without a namespace": (
        opcua_tag(node="s=T", namespace=None),
        re.compile(r"nickel-1\.ph\.read\.namespace: missing; name the node's namespace URI"),
    ),
    "a register on an OPC UA link": (
        opcua_tag(node="s=T", address=4),
        re.compile(r"nickel-1\.ph\.read\.address: an OPC UA item has none"),
    ),
    "an OPC UA endpoint that is none": (
        append("link", {**OPCUA, "address": "127.0.0.1:4840"}),
        (
            "link.ua.address: '127.0.0.1:4840' is no OPC UA endpoint; write "
            '"opc.tcp://host:port"'
        ),
    ),
    "an OPC UA item without a node": (
        opcua_tag(node=None),
        re.compile(r"nickel-1\.ph\.read\.node: missing; an OPC UA item has a node"),
    ),
    "a coil with a register's type": (
        put("device", 1, "tag", 1, "read", {"table": "coil", "address": 1, "type": "int16"}),
        re.compile(r"nickel-1\.level\.read\.type: a coil is a bit; leave it out or write"),
    ),
    "a bit of which nobody says which": (
        put("device", 1, "tag", 1, "read", "type", "bit"),
        re.compile(r"nickel-1\.level\.read\.bit: missing; say which bit, 0 to 15"),
    ),
    "a factor that leaves nothing": (
        put("device", 1, "tag", 1, "read", "scale", 0.0),
        re.compile(r"nickel-1\.level\.read\.scale: 0 makes every value the same"),
    ),
    "a loop from one value to itself": (
        put(
            "device",
            1,
            "tag",
            1,
            "read",
            "signal",
            {"counts_at_4ma": 0.0, "counts_at_20ma": 1.0, "low": "9 mm", "high": "9 mm"},
        ),
        re.compile(r"nickel-1\.level\.read\.signal: spans nothing; let low and high differ"),
    ),
    "a thermometer for a level": (
        put("device", 1, "tag", 1, "read", "sensor", "pt100-ohm"),
        re.compile(r"nickel-1\.level\.read\.sensor: the tag is no temperature"),
    ),
    "plausible values inside out": (
        lambda document: document["device"][1]["tag"][2].update(low="9 uS/cm", high="1 uS/cm"),
        re.compile(r"rinse-1\.conductivity\.low: low 9 is not below high 1; let them rise"),
    ),
    "a class of error in another dimension": (
        put("device", 1, "tag", 0, "class_absolute", "1 V"),
        re.compile(r"nickel-1\.temperature\.class_absolute: '1 V' is no "),
    ),
    "a class of error with a sign": (
        put("device", 1, "tag", 0, "class_absolute", "-1 K"),
        re.compile(r"class_absolute: '-1 K' is negative; write how far, without a sign"),
    ),
    "a limit without end": (
        put("tank", 1, "window", "conductivity", "high", "1e400 uS/cm"),
        re.compile(r"rinse-1\.window\.conductivity\.high: '1e400 uS/cm' is no finite number"),
    ),
    "a limit in another dimension": (
        put("tank", 1, "window", "conductivity", "high", "5 bar"),
        re.compile(r"rinse-1\.window\.conductivity\.high: '5 bar' is no conductivity"),
    ),
    "a switched-off alarm that there is not": (
        put("tank", 0, "alarm", [{"when": "rate", "of": "temperature", "off": bool(1)}]),
        re.compile(r"tank\.nickel-1\.alarm\.temperature\.rate\.off: there is no such alarm"),
    ),
    "an overdue time that is none": (
        put("tank", 0, "alarm", [{"when": "overdue", "of": "level", "limit": "5 mm"}]),
        re.compile(r"alarm\.level\.overdue\.limit: '5 mm' is no time"),
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
