"""Quantities as people write them, and the units they are kept and shown in.

Rule 1: a unit is a row of `UNITS`; its factor is exact wherever the unit is defined exactly.
Rule 2: a temperature and a difference of temperatures are two things: "2 K" of a deadband is
        2, not -271.15. `parse` reads temperatures, `parse_difference` differences.
Rule 3: stored values are in the measurement's own unit, always; other units are for people.

References:
    Exact factors: NIST Special Publication 811 (2008), appendix B: 1 in = 25.4 mm,
    1 US gal = 231 in3, 1 imperial gal = 4.54609 L, 1 lb = 0.45359237 kg,
    1 troy oz = 31.1034768 g, 1 lbf/in2 from g = 9.80665 m/s2.
    1 Btu = 1055.056 J as ISO 31-4 (1992) rounds it; the International Table definition,
    1055.05585262 J, differs by 0.14 parts in a million.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from linewatch.core.errors import UnitMismatch

INCH_MM = 25.4
FOOT_DM = 3.048
GALLON_L = 3.785411784
IMPERIAL_GALLON_L = 4.54609
OUNCE_G = 28.349523125
TROY_OUNCE_G = 31.1034768
POUND_KG = 0.45359237
PSI_PA = 6894.757293168361
BTU_J = 1055.056
GRAVITY_M_PER_S2 = 9.80665


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: value in the dimension's base unit = number x factor + offset."""

    name: str
    dimension: str
    """What it measures, in words, for messages."""
    factor: float
    offset: float = 0.0


def _rows(dimension: str, **factors: float) -> list[tuple[str, str, float]]:
    return [(name, dimension, factor) for name, factor in factors.items()]


_FT2_DM2 = FOOT_DM**2
_IN2_DM2 = (INCH_MM / 100.0) ** 2

# Base units: s, mm, dm2, L, g, A, A.h, V, ohm, degC (offset), bar, W, ...
_LINEAR: list[tuple[str, str, float]] = [
    *_rows("time", s=1.0, ms=1e-3, us=1e-6, min=60.0, h=3600.0, d=86400.0),
    *_rows("length", mm=1.0, um=1e-3, nm=1e-6, cm=10.0, m=1000.0),
    *_rows("length", mil=INCH_MM / 1000.0, ft=12.0 * INCH_MM, uin=INCH_MM * 1e-6),
    ("in", "length", INCH_MM),
    *_rows("area", dm2=1.0, m2=100.0, cm2=0.01, mm2=1e-4, ft2=_FT2_DM2, in2=_IN2_DM2),
    *_rows("volume", L=1.0, mL=1e-3, uL=1e-6, m3=1000.0, dm3=1.0, cm3=1e-3),
    *_rows("volume", gal=GALLON_L, igal=IMPERIAL_GALLON_L, floz=GALLON_L / 128.0),
    *_rows("mass", g=1.0, mg=1e-3, kg=1000.0, t=1e6),
    *_rows("mass", lb=POUND_KG * 1000.0, oz=OUNCE_G, ozt=TROY_OUNCE_G),
    *_rows("current", A=1.0, mA=1e-3, kA=1000.0),
    *_rows("voltage", V=1.0, mV=1e-3, uV=1e-6, kV=1000.0),
    *_rows("resistance", ohm=1.0, mohm=1e-3, kohm=1000.0),
    *_rows("charge", **{"A.h": 1.0, "kA.h": 1000.0, "mA.h": 1e-3, "A.min": 1 / 60}),
    *_rows("charge", **{"A.s": 1 / 3600, "C": 1 / 3600}),
    *_rows("current density", **{"A/dm2": 1.0, "A/m2": 0.01, "A/cm2": 100.0}),
    *_rows("current density", **{"mA/cm2": 0.1, "A/ft2": 1 / _FT2_DM2}),
    *_rows("current density", **{"A/in2": 1 / _IN2_DM2}),
    *_rows("concentration", **{"g/L": 1.0, "mg/L": 1e-3, "ug/L": 1e-6, "kg/m3": 1.0}),
    *_rows("concentration", **{"oz/gal": OUNCE_G / GALLON_L}),
    *_rows("concentration", **{"ozt/gal": TROY_OUNCE_G / GALLON_L}),
    *_rows("concentration", **{"lb/gal": POUND_KG * 1000.0 / GALLON_L}),
    *_rows("dose per charge", **{"mL/kA.h": 1.0, "mL/A.h": 1000.0, "L/kA.h": 1000.0}),
    *_rows("dose per charge", **{"L/10kA.h": 100.0, "mL/10kA.h": 0.1}),
    *_rows("dose per charge", **{"gal/kA.h": GALLON_L * 1000.0}),
    *_rows("mass per area", **{"g/dm2": 1.0, "g/m2": 0.01, "mg/cm2": 0.1}),
    *_rows("mass per area", **{"oz/ft2": OUNCE_G / _FT2_DM2}),
    *_rows("volume per area", **{"mL/m2": 1.0, "L/m2": 1000.0}),
    *_rows("volume per area", **{"gal/1000ft2": GALLON_L * 1e3 / (_FT2_DM2 * 10.0)}),
    *_rows("area per mass", **{"dm2/kg": 1.0, "m2/kg": 100.0, "ft2/lb": _FT2_DM2 / POUND_KG}),
    *_rows("flow", **{"L/min": 1.0, "L/h": 1 / 60, "L/s": 60.0, "m3/h": 1000.0 / 60.0}),
    *_rows("flow", **{"mL/min": 1e-3, "gal/min": GALLON_L, "gal/h": GALLON_L / 60.0}),
    *_rows("pressure", bar=1.0, mbar=1e-3, Pa=1e-5, hPa=1e-3, kPa=0.01, MPa=10.0),
    *_rows("pressure", psi=PSI_PA * 1e-5, ksi=PSI_PA * 1e-2),
    *_rows("pressure", **{"kgf/cm2": GRAVITY_M_PER_S2 / 10.0, "inH2O": 249.08891e-5}),
    *_rows("power", kW=1.0, W=1e-3, MW=1000.0),
    *_rows("heat flux", **{"W/m2": 1.0, "kW/m2": 1000.0}),
    *_rows("heat flux", **{"Btu/(h.ft2)": BTU_J / 3600.0 / (_FT2_DM2 / 100.0)}),
    *_rows("conductivity", **{"uS/cm": 1.0, "mS/cm": 1000.0, "S/m": 10_000.0}),
    *_rows("frequency of turns", **{"1/min": 1.0, "rpm": 1.0, "1/s": 60.0}),
    *_rows("rate of growth", **{"um/h": 1.0, "um/min": 60.0, "mil/h": INCH_MM}),
    *_rows("speed of evaporation", **{"L/(h.m2)": 1.0, "mm/h": 1.0, "in/h": INCH_MM}),
    *_rows("density", **{"g/cm3": 1.0, "g/mL": 1.0, "kg/L": 1.0}),
    *_rows("share", **{"%": 1.0}),
    *_rows("pH", pH=1.0),
    *_rows("turbidity", NTU=1.0, FNU=1.0),
    *_rows("difference of temperature", K=1.0, delta_degC=1.0, delta_degF=5.0 / 9.0),
    *_rows("number", **{"": 1.0}),
]

_TEMPERATURES = (
    Unit("degC", "temperature", 1.0),
    Unit("degF", "temperature", 5.0 / 9.0, -32.0 * 5.0 / 9.0),
    Unit("degK", "temperature", 1.0, -273.15),
)

UNITS: dict[str, Unit] = {
    **{name: Unit(name, dimension, factor) for name, dimension, factor in _LINEAR},
    **{unit.name: unit for unit in _TEMPERATURES},
}
"""Every unit by the name under which linewatch keeps it."""

BASE_UNITS: dict[str, str] = {
    dimension: next(
        unit.name
        for unit in UNITS.values()
        if unit.dimension == dimension and (unit.factor, unit.offset) == (1.0, 0.0)
    )
    for dimension in dict.fromkeys(unit.dimension for unit in UNITS.values())
    if dimension not in UNITS
}
"""The unit in which each dimension is reckoned: "A/dm2" for "current density"."""

_SPELLINGS = {
    "l": "L",
    "litre": "L",
    "liter": "L",
    "ml": "mL",
    "°C": "degC",
    "C°": "degC",
    "°F": "degF",
    "celsius": "degC",
    "fahrenheit": "degF",
    "sec": "s",
    "second": "s",
    "minute": "min",
    "mins": "min",
    "hr": "h",
    "hour": "h",
    "day": "d",
    "ASF": "A/ft2",
    "ASD": "A/dm2",
    "Ah": "A.h",
    "kAh": "kA.h",
    "A-h": "A.h",
    "usgal": "gal",
    "gallon": "gal",
    "inch": "in",
    '"': "in",
    "micron": "um",
    "thou": "mil",
    "percent": "%",
    "mL/kAh": "mL/kA.h",
    "mL/Ah": "mL/A.h",
    "ml/kA.h": "mL/kA.h",
    "ml/kAh": "mL/kA.h",
    "gpm": "gal/min",
    "l/min": "L/min",
    "l/h": "L/h",
    "g/l": "g/L",
    "mg/l": "mg/L",
}

_WRITTEN_OTHERWISE = str.maketrans(
    {"µ": "u", "μ": "u", "²": "2", "³": "3", "·": ".", "*": ".", "⋅": "."}
)

_QUANTITY = re.compile(
    r"^\s*([+-]?(?:\d+(?:[ _]\d{3})*(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(\S.*?)?\s*$"
)
_WHOLE = re.compile(r"\s*[+-]?[0-9]{1,12}\s*")
_THOUSANDS = re.compile(r"\s*[+-]?(?!0)\d{1,3}(?:,\d{3})+(?!\d)")
"""Numbers of which nobody can tell whether a comma is of thousands or of decimals."""


def find(name: str) -> Unit | None:
    """Return the unit that a spelling means, or None.

    Args:
        name: As a person writes it: "degC", "°C", "A/ft2", "hours".

    Returns:
        The unit, or None if the spelling is not known.
    """
    plain = name.strip().translate(_WRITTEN_OTHERWISE).replace(" ", "")
    singular = plain.removesuffix("s") if len(plain) > 2 else plain  # noqa: PLR2004 - "ms" stays
    for spelling in (plain, _SPELLINGS.get(plain, ""), singular, _SPELLINGS.get(singular, "")):
        if spelling and spelling in UNITS:
            return UNITS[spelling]
    return None


NO_THOUSANDS = (
    "a comma before three digits may be of thousands or of decimals: write thousands without"
    " a comma, as 2400, and decimals with a point, as 2.4"
)


def number(text: str) -> float:
    """Return a number without a unit, as a person writes it: "75.5", "75,5", "1 200".

    Raises:
        UnitMismatch: it is none, not finite, or its comma may mean two things.
    """
    if _THOUSANDS.match(text):
        raise UnitMismatch(text, "number", NO_THOUSANDS)
    match = _QUANTITY.match(text)
    if match is None or match[2]:
        raise UnitMismatch(text, "number", "write it as 75.5 or 75,5")
    found = _value(match[1])
    if not math.isfinite(found):
        raise UnitMismatch(text, "finite number", "it is too large")
    return found


def whole(text: str) -> int:
    """Return a whole number, as a person writes it.

    Raises:
        UnitMismatch: it is none.
    """
    if not _WHOLE.fullmatch(text):
        raise UnitMismatch(text, "whole number", "write it as 12")
    return int(text)


def _value(digits: str) -> float:
    return float(digits.replace(" ", "").replace("_", "").replace(",", "."))


def _split(text: str, unit: str) -> tuple[float, Unit, Unit]:
    """Return number and unit of a text, and the unit wanted."""
    wanted = UNITS[BASE_UNITS.get(unit, unit)]
    unit = wanted.name
    example = f'write it as "{f"12 {unit}".strip()}"'
    if _THOUSANDS.match(text):
        raise UnitMismatch(text, wanted.dimension, NO_THOUSANDS)
    match = _QUANTITY.match(text)
    if match is None:
        raise UnitMismatch(text, wanted.dimension, example)
    number = _value(match[1])
    if not math.isfinite(number):
        raise UnitMismatch(text, "finite number", "it is too large")
    written = match[2] or ""
    if not written and unit:
        raise UnitMismatch(text, wanted.dimension, f"it has no unit; {example}")
    found = find(written) if written else UNITS[""]
    if found is None:
        known = ", ".join(
            name.replace("floz", "fl oz")
            for name, row in UNITS.items()
            if row.dimension == wanted.dimension
        )
        raise UnitMismatch(
            text, wanted.dimension, f"the unit {written!r} is not known; use {known}"
        )
    return number, found, wanted


def parse(text: str, unit: str) -> float:
    """Return a quantity that a person wrote, in a unit.

    Args:
        text: Number and unit: "65 degC", "40 A/ft2", "500 gal", "10min".
        unit: Name of the unit wanted, a key of `UNITS`; or a dimension, a key of
            `BASE_UNITS`, whose base unit is meant.

    Returns:
        The number in that unit.

    Raises:
        UnitMismatch: the text is no quantity, has no unit, or one of another dimension.

    Examples:
        >>> parse("40 A/ft2", "A/dm2")
        4.31
        >>> parse("149 °F", "degC")
        65.0
        >>> parse("2h", "s")
        7200.0
        >>> parse("1.5 gal", "volume")
        5.678
    """
    number, found, wanted = _split(text, unit)
    if wanted.dimension == "temperature" and found.dimension == "difference of temperature":
        raise UnitMismatch(
            text,
            wanted.dimension,
            f'a temperature is written as "65 degC", not in {found.name}',
        )
    _same(text, found, wanted)
    return _from_base(_to_base(number, found), wanted)


def parse_difference(text: str, unit: str) -> float:
    """Return a difference that a person wrote, in a unit: "2 K", "3 degF" are how far apart.

    Args:
        text: Number and unit.
        unit: Name of the unit wanted; for temperatures "degC" or "K" mean the same.

    Returns:
        The difference in that unit.

    Raises:
        UnitMismatch: the text is no quantity, has no unit, or one of another dimension.

    Examples:
        >>> parse_difference("3.6 degF", "degC")
        2.0
    """
    number, found, wanted = _split(text, unit)
    temperatures = {"temperature", "difference of temperature"}
    if not (found.dimension in temperatures and wanted.dimension in temperatures):
        _same(text, found, wanted)
    return number * found.factor / wanted.factor


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Return a value in another unit of its dimension.

    Args:
        value: The number in `from_unit`.
        from_unit: Name of its unit.
        to_unit: Name of the unit wanted.

    Returns:
        The number in `to_unit`.

    Raises:
        UnitMismatch: a unit is not known, or the two measure different things.
    """
    if from_unit == to_unit:
        return value
    found, wanted = find(from_unit), find(to_unit)
    for name, unit in ((from_unit, found), (to_unit, wanted)):
        if unit is None:
            raise UnitMismatch(name, "unit", f"use one of {', '.join(UNITS)}")
    assert found is not None  # noqa: S101 - refused above
    assert wanted is not None  # noqa: S101 - refused above
    _same(from_unit, found, wanted)
    return _from_base(_to_base(value, found), wanted)


def _same(text: str, found: Unit, wanted: Unit) -> None:
    if found.dimension != wanted.dimension:
        raise UnitMismatch(
            text,
            wanted.dimension,
            f"{found.name} is a {found.dimension}; write it in {wanted.name or 'no unit'}",
        )


def _to_base(value: float, unit: Unit) -> float:
    return value * unit.factor + unit.offset


def _from_base(value: float, unit: Unit) -> float:
    return (value - unit.offset) / unit.factor


US_UNITS: dict[str, str] = {
    "degC": "degF",
    "K": "delta_degF",
    "mm": "in",
    "um": "mil",
    "L": "gal",
    "mL": "floz",
    "L/min": "gal/min",
    "L/h": "gal/h",
    "mm/h": "in/h",
    "mL/m2": "gal/1000ft2",
    "g/dm2": "oz/ft2",
    "dm2/kg": "ft2/lb",
    "A/dm2": "A/ft2",
    "dm2": "ft2",
    "g/L": "oz/gal",
    "g": "oz",
    "kg": "lb",
    "bar": "psi",
    "Pa": "inH2O",
    "um/h": "mil/h",
}
"""What each metric unit becomes on a screen in US units; all others stay."""


def shown_unit(unit: str, system: str) -> str:
    """Return the unit in which a screen shows values that are kept in `unit`.

    Args:
        unit: Unit of the stored value.
        system: "metric" or "us".

    Returns:
        Name of the unit to show.
    """
    return US_UNITS.get(unit, unit) if system == "us" else unit


_SYMBOLS = {"degC": "°C", "degF": "°F", "um": "µm", "uS/cm": "µS/cm", "A.h": "A·h"}
_SYMBOLS |= {"um/h": "µm/h", "floz": "fl oz"}
_AFTER_A_NUMBER = re.compile(
    rf"(?<=\d )({'|'.join(re.escape(each) for each in _SYMBOLS)})(?![\w.])"
)


def symbol(unit: str) -> str:
    """Return how a unit is written on screen: "°C" for "degC".

    Args:
        unit: Name of the unit.

    Returns:
        Its symbol.
    """
    plain = unit.removeprefix("delta_")
    return _SYMBOLS.get(plain, plain)


def with_symbols(text: str) -> str:
    """Return a sentence of the record with its units as people write them.

    What the record says in words names units as the configuration does, for good.

    >>> with_symbols("temperature low: 56.9 degC, 0.80 ± 0.18 um")
    'temperature low: 56.9 °C, 0.80 ± 0.18 µm'
    """
    return _AFTER_A_NUMBER.sub(lambda found: _SYMBOLS[found[1]], text)
