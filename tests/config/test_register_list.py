"""A maker's register list becomes configuration, or every fault is told by its row."""

import tomllib
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.config import read_text
from linewatch.config.register_list import configuration_of, read_register_list
from linewatch.core.errors import ConfigurationFaulty

LIST = """\
Tag;Register;Data type;Byte order;Factor;Unit;Description
nickel-1.temperature;40001;INT;;0,1;degC;Bath "7", thermometer
nickel-1.level;0x9C42;uint16;;;mm;
rectifier-1.charge-meter;40003;UDINT;Word swap;;;Ampere-hours
nickel-1.running;12;bool;;;;
"""

LINE = """
[line]
id = "small"
name = "Small"
[[link]]
id = "cabinet"
protocol = "modbus-tcp"
address = "127.0.0.1:502"
[[tank]]
id = "nickel-1"
name = "Nickel"
kind = "plate"
[[rectifier]]
id = "rectifier-1"
name = "R"
feeds = [{ tank = "nickel-1" }]
rated_current = "100 A"
rated_voltage = "12 V"
"""


def written(tmp_path: Path, text: str, name: str = "list.csv") -> Path:
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    return file


def faults(file: Path, device: str = "io") -> tuple[str, ...]:
    with pytest.raises(ConfigurationFaulty) as faulty:
        read_register_list(file, device)
    assert faulty.value.file == str(file)
    return faulty.value.faults


def test_a_list_becomes_devices_and_tags(tmp_path):
    rows = read_register_list(written(tmp_path, LIST), "io")

    (device,) = tomllib.loads(configuration_of(rows, "cabinet"))["device"]

    assert (device["id"], device["link"]) == ("io", "cabinet")
    assert [tag["measures"] for tag in device["tag"]] == [
        "nickel-1.temperature",
        "nickel-1.level",
        "rectifier-1.charge-meter",
        "nickel-1.running",
    ]
    assert device["tag"][0]["read"] == {
        "address": 40001,
        "type": "int16",
        "scale": 0.1,
        "unit": "degC",
    }
    assert device["tag"][1]["read"]["address"] == 0x9C42
    assert device["tag"][2]["read"] == {"address": 40003, "type": "uint32", "order": "CDAB"}


def test_what_comes_out_is_a_configuration_that_can_be_read(tmp_path):
    text = LIST.replace("12;bool", "40012;bool").replace("0x9C42", "40002")
    rows = read_register_list(written(tmp_path, text.replace(";bool", ";INT")), "io")
    device = configuration_of(rows, "cabinet").replace('id = "io"', 'id = "io"\nbase = 40001')

    works = read_text(LINE + device, "line.toml")

    assert [tag.address for tag in works.links[0].devices[0].tags] == [0, 1, 2, 11]


def test_a_description_stands_as_a_comment(tmp_path):
    text = configuration_of(read_register_list(written(tmp_path, LIST), "io"), "cabinet")

    assert 'measures = "nickel-1.temperature" # Bath "7", thermometer' in text


def test_a_spreadsheet_says_the_same_as_its_csv(tmp_path):
    book = openpyxl.Workbook()
    for line in LIST.splitlines():
        cells = line.split(";")
        book.active.append([int(cell) if cell.isdigit() else cell for cell in cells])
    book.save(tmp_path / "list.xlsx")

    of_sheet = read_register_list(tmp_path / "list.xlsx", "io")
    of_csv = read_register_list(written(tmp_path, LIST), "io")

    assert [row.keys for row in of_sheet] == [row.keys for row in of_csv]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_any_usual_delimiter_is_understood(tmp_path, delimiter):
    text = "tag;address;type\na.level;1;int16\n".replace(";", delimiter)

    (row,) = read_register_list(written(tmp_path, text), "io")

    assert row.keys == {"measures": "a.level", "read": {"address": 1, "type": "int16"}}


def test_rows_go_to_the_devices_that_they_name(tmp_path):
    text = (
        "tag,device,address,type\na.level,one,1,int16\nb.level,two,1,int16\na.ph,one,2,int16\n"
    )

    devices = tomllib.loads(
        configuration_of(read_register_list(written(tmp_path, text)), "bus")
    )["device"]

    assert [(device["id"], len(device["tag"])) for device in devices] == [
        ("one", 2),
        ("two", 1),
    ]


def test_an_opc_ua_list_names_nodes_instead_of_registers(tmp_path):
    text = "tag,node id,namespace\na.ph,s=Final.pH,urn:water\n"

    (row,) = read_register_list(written(tmp_path, text), "server")

    assert row.keys["read"] == {"node": "s=Final.pH", "namespace": "urn:water"}


def test_every_fault_is_told_by_its_row(tmp_path):
    text = """\
tag,address,type,order,scale,period
nickel-1.temperature,40001,int16,ABCD,0.1,5 s
,40002,int16,,,
nickel-1.temprature,40003,int16,,,
nickel-1.level,four,int16,,,
nickel-1.ph,40005,flaot,,,
nickel-1.orp,,int16,,,
nickel-1.flow,40007,,,,
nickel-1.pressure,40008,int16,ACBD,,
nickel-1.volume,40009,int16,,1.2.3,
nickel-1.mass,40010,int16,,,5 V
nickel-1.temperature,40011,int16,,,

"""
    found = faults(written(tmp_path, text))

    begun = [
        "row 3.tag: missing; say what it measures",
        "row 4.tag: no measurement 'temprature'; did you mean 'temperature'?",
        "row 5.address: 'four' is no number; write digits alone",
        "row 6.read.type: 'flaot' is not known here; use 'int16', ",
        "row 7.address: missing; the device's manual has it",
        "row 8.type: missing; the device's manual has it",
        "row 9.read.order: 'ACBD' is not known here; use 'ABCD', 'CDAB', 'BADC' or 'DCBA'",
        "row 10.scale: '1.2.3' is no number",
        "row 11.period: '5 V' is no time",
        "row 12.tag: 'nickel-1.temperature' stands in row 2 already; tell twins apart",
    ]
    assert len(found) == len(begun)
    for fault, start in zip(found, begun, strict=True):
        assert fault.startswith(start)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "tag,adress,type\na.ph,1,int16\n",
            "row 1.'adress': unknown heading; did you mean 'address'?",
        ),
        ("tag,tag,type\n", "row 1.'tag': the second column for tag; keep one"),
        ("address,type\n1,int16\n", "row 1: no column tells which quantity it is; row 1 holds"),
        ("tag,address,type\n", "row 2: missing; there are headings, but no row under them"),
        ("", "row 1: no column tells which quantity it is"),
    ],
    ids=["misspelt", "twice", "no tag", "no rows", "empty"],
)
def test_headings_are_told_too(tmp_path, text, told):
    (found,) = faults(written(tmp_path, text))

    assert found.startswith(told)


def test_numbers_are_understood_as_spreadsheets_write_them(tmp_path):
    text = "tag;address;type;scale;sentinels;\na.level;40001.0;int16;0,25;-32768 32767;\n"

    (row,) = read_register_list(written(tmp_path, text), "io")

    assert row.keys["read"] == {
        "address": 40001,
        "type": "int16",
        "scale": 0.25,
        "sentinels": [-32768, 32767],
    }


def test_half_a_register_is_told(tmp_path):
    (found,) = faults(written(tmp_path, "tag,address,type\na.level,40001.5,int16\n"))

    assert found == "row 2.address: '40001.5' is no number; write digits alone"


def test_a_list_of_something_else_altogether_is_told(tmp_path):
    (found,) = faults(written(tmp_path, "tag,address,type\n" * 20_001))

    assert found == "more than 20000 rows"


def test_rows_without_a_device_are_told(tmp_path):
    found = faults(written(tmp_path, "tag,address,type\na.ph,1,int16\n"), device="")

    assert found == ("row 2.device: missing; add a column, or name one device for all rows",)


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        (
            "list.xls",
            b"\xd0\xcf\x11\xe0",
            "this kind of file is not read; save it as CSV or .xlsx",
        ),
        ("list.xlsx", b"no zip at all", "it is no spreadsheet that can be read"),
        ("list.csv", b"tag\xff,address\n", "line 1: byte 0xFF is no UTF-8"),
        ("list.csv", b"\x00\x01", "it is no text file"),
        ("list.csv", b'tag,address\n"' + b"a" * 200_000, "line 2: field larger than"),
    ],
)
def test_files_that_cannot_be_read_are_told(tmp_path, name, content, told):
    file = tmp_path / name
    file.write_bytes(content)

    (found,) = faults(file)

    assert found.startswith(told)


def test_a_missing_list_is_told(tmp_path):
    for name in ("list.csv", "list.xlsx"):
        (found,) = faults(tmp_path / name)
        assert found.startswith("there is no such file")


@settings(deadline=None, max_examples=100)
@given(st.lists(st.lists(st.text(max_size=12), max_size=8), max_size=8))
def test_no_list_ever_gives_anything_but_rows_or_faults(tmp_path_factory, table):
    file = tmp_path_factory.mktemp("lists") / "list.csv"
    lines = ["tag,address,type,order,scale,sentinels,bit,period"]
    lines += [",".join(f'"{cell}"'.replace('""', '"') for cell in row) for row in table]
    file.write_text("\n".join(lines), encoding="utf-8", errors="replace")
    told: tuple[str, ...] = ()
    rows = None
    try:
        rows = read_register_list(file, "io")
    except ConfigurationFaulty as faulty:
        told = faulty.faults

    assert (rows is None) == bool(told)
