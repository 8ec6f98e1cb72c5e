"""A register list in, configuration out: what the electrician has of the device's maker.

A list is a CSV file or the first sheet of a spreadsheet, with a row of headings. What it must
say of each row: which quantity it is (`tag`), its `address` and its `type`. All faults are
told at once, each by its row.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.config.blocks import device_block, tag_block
from linewatch.config.faults import Faults, alternatives, shown
from linewatch.config.model import TagSection
from linewatch.config.sections import section_of
from linewatch.config.text import text_of, why_not
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.measurements import MEASUREMENTS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

HEADINGS: dict[str, tuple[str, ...]] = {
    "tag": ("tag", "measures", "quantity", "signal"),
    "device": ("device", "unit name"),
    "address": ("address", "register", "addr", "register address", "modbus address"),
    "table": ("table", "register type", "area"),
    "type": ("type", "data type", "datatype", "format"),
    "order": ("order", "byte order", "word order", "endian"),
    "bit": ("bit", "bit number"),
    "scale": ("scale", "factor", "gain", "multiplier"),
    "offset": ("offset",),
    "unit": ("unit", "units", "engineering unit"),
    "sentinels": ("sentinels", "no value", "fault value"),
    "length": ("length", "registers"),
    "node": ("node", "node id", "nodeid"),
    "namespace": ("namespace", "namespace uri"),
    "period": ("period", "poll", "interval"),
    "low": ("low", "min", "minimum"),
    "high": ("high", "max", "maximum"),
    "comment": ("comment", "description", "name", "remark"),
}
"""What a column may be called, by our own name of it."""

_TYPES = {
    "int": "int16", "short": "int16", "s16": "int16", "i16": "int16",
    "uint": "uint16", "word": "uint16", "ushort": "uint16", "u16": "uint16",
    "dint": "int32", "long": "int32", "s32": "int32", "i32": "int32",
    "udint": "uint32", "dword": "uint32", "ulong": "uint32", "u32": "uint32",
    "lint": "int64", "s64": "int64", "ulint": "uint64", "lword": "uint64", "u64": "uint64",
    "real": "float32", "float": "float32", "single": "float32", "f32": "float32",
    "lreal": "float64", "double": "float64", "f64": "float64",
    "bool": "bit", "boolean": "bit", "string": "text", "char": "text", "bcd": "bcd16",
}  # fmt: skip
_TABLES = {
    "holding register": "holding", "holding registers": "holding", "hr": "holding",
    "4x": "holding", "03": "holding", "3": "holding", "fc3": "holding",
    "input register": "input", "input registers": "input", "ir": "input",
    "3x": "input", "04": "input", "4": "input", "fc4": "input",
    "coils": "coil", "0x": "coil", "01": "coil", "1": "coil", "fc1": "coil",
    "discrete input": "discrete", "discrete inputs": "discrete", "di": "discrete",
    "1x": "discrete", "02": "discrete", "2": "discrete", "fc2": "discrete",
}  # fmt: skip
_ORDERS = {
    "big-endian": "ABCD", "big endian": "ABCD", "msb first": "ABCD",
    "word swap": "CDAB", "word-swapped": "CDAB", "swapped words": "CDAB",
    "byte swap": "BADC", "byte-swapped": "BADC", "swapped bytes": "BADC",
    "little-endian": "DCBA", "little endian": "DCBA", "lsb first": "DCBA",
}  # fmt: skip
_WORDS: dict[str, dict[str, str]] = {"type": _TYPES, "table": _TABLES, "order": _ORDERS}
_WHOLE = {"address", "bit", "length"}
_NUMBER = {"scale", "offset"}
_IN_TAG = ("period", "low", "high")
_IN_READ = (
    "table", "address", "type", "order", "bit", "scale", "offset", "unit", "sentinels",
    "length", "node", "namespace",
)  # fmt: skip
_MOST_ROWS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRow:
    """One row that holds."""

    number: int
    """As a spreadsheet numbers it: the headings are row 1."""
    device: str
    keys: Mapping[str, object]
    """The tag's keys as the configuration has them."""
    comment: str = ""


def read_register_list(path: Path, device: str = "") -> tuple[RegisterRow, ...]:
    """Return the rows of a register list.

    Args:
        path: A CSV file or a spreadsheet (.xlsx).
        device: Device of the rows that name none.

    Raises:
        ConfigurationFaulty: the file cannot be read, or rows have faults; all are told.
    """
    table = _table(path)
    faults = Faults()
    columns = _columns(table[0] if table else (), faults)
    rows: list[RegisterRow] = []
    if columns:
        for number, cells in enumerate(table[1:], start=2):
            values = {
                name: cells[place].strip()
                for name, place in columns.items()
                if place < len(cells) and cells[place].strip()
            }
            row = _row(number, values, device, faults) if values else None
            rows += [row] if row is not None else []
        _refuse_doubled(rows, faults)
        if not rows and not faults.found:
            faults.add("row 2", "missing", "there are headings, but no row under them")
    if faults.found:
        raise ConfigurationFaulty(str(path), tuple(faults.found))
    return tuple(rows)


def configuration_of(rows: Sequence[RegisterRow], link: str) -> str:
    """Return rows as configuration text: their devices, each with its tags."""
    devices = dict.fromkeys(row.device for row in rows)
    blocks = [
        device_block(
            {"id": device, "link": link},
            [tag_block(row.keys, row.comment) for row in rows if row.device == device],
        )
        for device in devices
    ]
    return "\n".join(blocks)


def _row(
    number: int, values: Mapping[str, str], device: str, faults: Faults
) -> RegisterRow | None:
    key = f"row {number}"
    before = len(faults.found)
    tag = values.get("tag", "")
    if not tag:
        remedy = 'say what it measures: "nickel-1.temperature"'
        faults.add(f"{key}.tag", "missing", remedy)
        return None
    cells = {
        name: _cell(name, values[name], key, faults) for name in _IN_READ if name in values
    }
    read = {name: cell for name, cell in cells.items() if cell is not None}
    keys: dict[str, object] = {"measures": tag, "read": read}
    keys |= {name: values[name] for name in _IN_TAG if name in values}
    section_of(TagSection, keys, (key,), faults)
    kind = tag.partition(".")[2].split(".")[0]
    if kind and kind not in MEASUREMENTS:
        faults.unknown(f"{key}.tag", "measurement", kind, MEASUREMENTS)
    is_bit = cells.get("table") in {"coil", "discrete"}
    for name in () if "node" in cells else ("address",) if is_bit else ("address", "type"):
        if name not in cells:
            faults.add(f"{key}.{name}", "missing", "the device's manual has it")
    of = values.get("device", device)
    if not of:
        faults.add(f"{key}.device", "missing", "add a column, or name one device for all rows")
    if len(faults.found) > before:
        return None
    return RegisterRow(number=number, device=of, keys=keys, comment=values.get("comment", ""))


def _cell(name: str, text: str, key: str, faults: Faults) -> object:
    """Return a cell as the configuration has it."""
    try:
        if name in _WHOLE:
            return _whole(text)
        if name in _NUMBER:
            return _number(text)
        if name == "sentinels":
            return [_whole(each) for each in re.split(r"[\s,;]+", text)]
    except ValueError:
        faults.add(f"{key}.{name}", f"{shown(text)} is no number", "write digits alone")
        return None
    words = _WORDS.get(name)
    if words is None:
        return text
    plain = text.lower()
    return words.get(plain, text.upper() if name == "order" else plain)


def _whole(text: str) -> int:
    """Return a whole number: 40001, 0x9C41 or, as spreadsheets write it, 40001.0."""
    try:
        return int(text, 0) if text.lower().startswith("0x") else int(text)
    except ValueError:
        number = _number(text)
        if not number.is_integer():
            raise
        return int(number)


def _number(text: str) -> float:
    """Return a number with a decimal point, or with a comma where there is no point."""
    if "." not in text and text.count(",") == 1:
        text = text.replace(",", ".")
    return float(text)


def _refuse_doubled(rows: Sequence[RegisterRow], faults: Faults) -> None:
    first: dict[object, int] = {}
    for row in rows:
        tag = row.keys["measures"]
        if tag in first:
            happened = f"{shown(tag)} stands in row {first[tag]} already"
            faults.add(f"row {row.number}.tag", happened, f"tell twins apart: {tag}.second")
        first.setdefault(tag, row.number)


def _columns(headings: Sequence[str], faults: Faults) -> dict[str, int]:
    """Return where each of our columns stands; every heading must be one that we know."""
    found: dict[str, int] = {}
    known = {word: name for name, words in HEADINGS.items() for word in words}
    for place, heading in enumerate(headings):
        plain = " ".join(heading.lower().replace("_", " ").split())
        if not plain:
            continue
        name = known.get(plain)
        if name is None:
            faults.add(
                f"row 1.{shown(heading)}",
                "unknown heading",
                alternatives(plain, list(HEADINGS), "heading"),
            )
        elif name in found:
            faults.add(f"row 1.{shown(heading)}", f"the second column for {name}", "keep one")
        else:
            found[name] = place
    if not faults.found and "tag" not in found:
        remedy = f"row 1 holds the headings: {', '.join(HEADINGS)}"
        faults.add("row 1", "no column tells which quantity it is", remedy)
    return {} if faults.found else found


def _table(path: Path) -> list[list[str]]:
    """Return the cells of a file as texts.

    Raises:
        ConfigurationFaulty: it cannot be read.
    """
    if path.suffix.lower() in {".xlsx", ".xlsm"}:
        table = _sheet(path)
    elif path.suffix.lower() in {".xls", ".ods", ".numbers", ".pdf"}:
        told = "this kind of file is not read; save it as CSV or .xlsx"
        raise ConfigurationFaulty(str(path), (told,))
    else:
        table = _lines(path)
    if len(table) > _MOST_ROWS:
        raise ConfigurationFaulty(str(path), (f"more than {_MOST_ROWS} rows",))
    return table


def _lines(path: Path) -> list[list[str]]:
    text = text_of(path)
    first = text.split("\n", 1)[0]
    delimiter = max(";\t,", key=first.count)
    reader = csv.reader(text.splitlines(), delimiter=delimiter)
    try:
        return [list(row) for row in reader]
    except csv.Error as error:
        told = f"line {reader.line_num}: {error}; see that its quotes are closed"
        raise ConfigurationFaulty(str(path), (told,)) from error


def _sheet(path: Path) -> list[list[str]]:
    from zipfile import BadZipFile  # imported here: only commissioning reads spreadsheets

    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except OSError as error:
        raise ConfigurationFaulty(str(path), (why_not(path, error),)) from error
    except (BadZipFile, InvalidFileException, KeyError, ValueError) as error:
        told = "it is no spreadsheet that can be read; save it anew as .xlsx or CSV"
        raise ConfigurationFaulty(str(path), (told,)) from error
    try:
        sheet = book.worksheets[0]
        rows = sheet.iter_rows(values_only=True, max_row=_MOST_ROWS + 2)
        return [["" if cell is None else str(cell) for cell in row] for row in rows]
    finally:
        book.close()
