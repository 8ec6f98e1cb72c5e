"""A parsed file in, its sections out, each validated on its own.

A section with a fault is mended by leaving the faulty key out, so that the checks after this
one still see the rest of it; what cannot be mended is left out, but its id stays known, so
that nobody is told that a tank does not exist because its volume is misspelt.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from linewatch.config.faults import Faults, has_control_characters, nearest, shown
from linewatch.config.model import (
    BathSection,
    Configuration,
    DeviceSection,
    DutySection,
    LineSection,
    LinkSection,
    PartSection,
    PermitSection,
    RecipeSection,
    RectifierSection,
    RouteSection,
    TankSection,
)

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

    from linewatch.config.model import Section

SectionT = TypeVar("SectionT", bound=BaseModel)
Path = tuple[str | int, ...]

_TABLES: dict[str, type[Section]] = {
    "recipe": RecipeSection,
    "link": LinkSection,
    "device": DeviceSection,
    "bath": BathSection,
    "tank": TankSection,
    "rectifier": RectifierSection,
    "route": RouteSection,
    "part": PartSection,
    "permit": PermitSection,
    "duty": DutySection,
}

_SECRET_KEYS = ("password", "user", "username", "token", "passphrase")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """What a file says, as far as it could be read."""

    line: LineSection | None
    links: tuple[LinkSection, ...] = ()
    devices: tuple[DeviceSection, ...] = ()
    recipes: tuple[RecipeSection, ...] = ()
    baths: tuple[BathSection, ...] = ()
    tanks: tuple[TankSection, ...] = ()
    rectifiers: tuple[RectifierSection, ...] = ()
    routes: tuple[RouteSection, ...] = ()
    parts: tuple[PartSection, ...] = ()
    permits: tuple[PermitSection, ...] = ()
    duties: tuple[DutySection, ...] = ()
    ids: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Every id written under a table, faulty sections included: a doubled one stands twice."""


def sections_of(raw: Mapping[str, object], faults: Faults) -> Sections:
    """Return the sections of a parsed file; what is wrong with them goes to `faults`."""
    _refuse_control_characters(raw, (), faults)
    _refuse_unknown_tables(raw, faults)
    found: dict[str, tuple[BaseModel, ...]] = {}
    ids: dict[str, tuple[str, ...]] = {}
    for table, model in _TABLES.items():
        items = _items(raw.get(table, []), table, faults)
        ids[table] = tuple(name for item in items if isinstance(name := item.get("id"), str))
        each = (
            section_of(model, item, (table, _name_of(item, number)), faults)
            for number, item in enumerate(items, start=1)
        )
        found[table] = tuple(section for section in each if section is not None)
    return Sections(
        line=_line(raw, faults),
        links=_of(LinkSection, found["link"]),
        devices=_of(DeviceSection, found["device"]),
        recipes=_of(RecipeSection, found["recipe"]),
        baths=_of(BathSection, found["bath"]),
        tanks=_of(TankSection, found["tank"]),
        rectifiers=_of(RectifierSection, found["rectifier"]),
        routes=_of(RouteSection, found["route"]),
        parts=_of(PartSection, found["part"]),
        permits=_of(PermitSection, found["permit"]),
        duties=_of(DutySection, found["duty"]),
        ids=ids,
    )


def _of(model: type[SectionT], found: Sequence[BaseModel]) -> tuple[SectionT, ...]:
    return tuple(section for section in found if isinstance(section, model))


def _line(raw: Mapping[str, object], faults: Faults) -> LineSection | None:
    table = raw.get("line")
    if not isinstance(table, dict):
        faults.add(
            "line",
            "missing" if table is None else f"{shown(table)} is no table",
            'every file begins with [line], an id and a name: id = "rack-1"',
        )
        return None
    section = section_of(LineSection, table, ("line",), faults)
    return section if isinstance(section, LineSection) else None


def _items(table: object, name: str, faults: Faults) -> list[dict[str, object]]:
    if not isinstance(table, list):
        faults.add(name, "is one table", f"write [[{name}]], once for each {name}")
        return [table] if isinstance(table, dict) else []
    items: list[dict[str, object]] = []
    for number, item in enumerate(table, start=1):
        if isinstance(item, dict):
            items.append(item)
        else:
            faults.add(f"{name}.{number}", f"{shown(item)} is no table", f"write [[{name}]]")
    return items


def _name_of(item: Mapping[str, object], number: int) -> str:
    for key in ("id", "measures", "of"):
        name = item.get(key)
        if isinstance(name, str) and name and not has_control_characters(name):
            return name
    return str(number)


def _refuse_unknown_tables(raw: Mapping[str, object], faults: Faults) -> None:
    known = tuple(Configuration.model_fields)
    for name in raw:
        if name not in known:
            faults.add(name, "unknown table", _likely_key(name, known))


def _refuse_control_characters(value: object, path: Path, faults: Faults) -> None:
    if isinstance(value, dict):
        for key, each in value.items():
            _refuse_control_characters(each, (*path, key), faults)
    elif isinstance(value, list):
        for number, each in enumerate(value, start=1):
            name = _name_of(each, number) if isinstance(each, dict) else str(number)
            _refuse_control_characters(each, (*path, name), faults)
    elif isinstance(value, str) and has_control_characters(value):
        faults.add(
            ".".join(map(str, path)),
            f"{shown(value)} holds a control character",
            "write it on one line, without escapes",
        )


def section_of(
    model: type[Section], item: Mapping[str, object], path: Path, faults: Faults
) -> Section | None:
    """Validate one section, leaving faulty parts out until the rest of it holds."""
    left = copy.deepcopy(dict(item))
    told: set[str] = set()
    # Each round takes at least one part away, so that the rounds come to an end.
    while True:
        try:
            return model.model_validate(_tuples(left))
        except ValidationError as error:
            found = error.errors(include_url=False)
        parts: set[Path] = set()
        for fault in found:
            key = _key(path, fault["loc"], left)
            # What was left out in an earlier round is missing now; that is no second fault.
            lacks = fault["type"] in {"missing", "too_short"}
            if not (lacks and any(f"{each}.".startswith(f"{key}.") for each in told)):
                faults.add(key, *_sentence(fault, model))
            told.add(key)
            parts.add(_faulty_part(fault, left))
        if () in parts:
            return None
        _leave_out(left, parts)


def _tuples(value: object) -> object:
    """Copy a parsed table with tuples for lists: nothing else is coerced later on."""
    if isinstance(value, Mapping):
        return {key: _tuples(each) for key, each in value.items()}
    if isinstance(value, list):
        return tuple(_tuples(each) for each in value)
    return value


def _step(value: object, part: str | int) -> object:
    if isinstance(value, dict):
        return value.get(str(part))
    if isinstance(value, list) and isinstance(part, int) and part < len(value):
        return value[part]
    return None


def _faulty_part(fault: ErrorDetails, left: object) -> Path:
    """Return the smallest part that can be left out without changing what the rest means."""
    known: list[tuple[str | int, object]] = []
    value = left
    for part in fault["loc"]:
        value = _step(value, part)
        if value is None:
            break
        known.append((part, value))
    # A place in a plain list has a meaning; only a table in a list may go alone.
    while known and isinstance(known[-1][0], int) and not isinstance(known[-1][1], dict):
        known.pop()
    return tuple(part for part, _ in known)


def _leave_out(left: object, parts: set[Path]) -> None:
    whole = [part for part in parts if not any(part[:n] in parts for n in range(1, len(part)))]
    # From the back, so that the places of the others still hold.
    for part in sorted(whole, key=lambda each: [str(step).zfill(9) for step in each])[::-1]:
        owner = left
        for step in part[:-1]:
            owner = _step(owner, step)
        if isinstance(owner, dict):
            del owner[str(part[-1])]
        elif isinstance(owner, list) and isinstance(part[-1], int):
            del owner[part[-1]]


def _key(path: Path, loc: Path, item: object) -> str:
    """Return the key of a fault, with names for the numbers of list items."""
    parts = [str(part) for part in path]
    value = item
    for part in loc:
        value = _step(value, part)
        if isinstance(part, int):
            parts.append(
                _name_of(value, part + 1) if isinstance(value, dict) else str(part + 1)
            )
        elif part != "[key]":
            parts.append(part)
    return ".".join(parts)


def _sentence(fault: ErrorDetails, model: type[Section]) -> tuple[str, str]:
    """Return what happened and the remedy, in our own words."""
    kind, value = fault["type"], fault["input"]
    context = fault.get("ctx", {})
    happened, remedy = f"{shown(value)}: {fault['msg'].lower()}", ""
    if kind == "extra_forbidden":
        happened, remedy = "unknown key", _remedy_for_unknown(fault["loc"], model)
    elif kind == "missing":
        happened, remedy = "missing", _described(fault["loc"], model)
    elif kind == "value_error":
        happened = str(context["error"])
    elif kind == "literal_error":
        happened, remedy = f"{shown(value)} is not known here", f"use {context['expected']}"
    elif kind == "string_pattern_mismatch":
        happened = f"{shown(value)} is not written as it must be"
        remedy = _described(fault["loc"], model)
    elif kind in _WORDS:
        happened = f"{shown(value)} {_WORDS[kind].format(**context)}"
    return happened, remedy


_WORDS = {
    "string_type": 'is no text; write it in quotes: "…"',
    "int_type": "is no whole number",
    "float_type": "is no number",
    "bool_type": "is neither true nor false",
    "tuple_type": "is no list; write it in brackets: […]",
    "dict_type": "is no table",
    "model_type": "is no table",
    "model_attributes_type": "is no table",
    "finite_number": "is no finite number",
    "greater_than": "is too small; it must be above {gt:g}",
    "greater_than_equal": "is too small; the least is {ge:g}",
    "less_than": "is too large; it must be below {lt:g}",
    "less_than_equal": "is too large; the most is {le:g}",
    "string_too_long": "is too long; at most {max_length} characters",
    "string_too_short": "is too short; at least {min_length} characters",
    "too_short": "has too few entries; at least {min_length}",
    "too_long": "has too many entries; at most {max_length}",
}


def _model_at(loc: Path, model: type[BaseModel]) -> type[BaseModel] | None:
    """Return the model in which the last part of `loc` is a key."""
    found: type[BaseModel] = model
    for part in loc[:-1]:
        if not isinstance(part, str) or part not in found.model_fields:
            continue
        inner = _inner_model(found.model_fields[part].annotation)
        if inner is not None:
            found = inner
    return found


def _inner_model(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in get_args(annotation):
        inner = _inner_model(argument)
        if inner is not None:
            return inner
    return None


def _remedy_for_unknown(loc: Path, model: type[BaseModel]) -> str:
    if str(loc[-1]) in _SECRET_KEYS:
        return 'secrets never stand in a configuration; name a file or "env:NAME" in `secrets`'
    owner = _model_at(loc, model)
    return _likely_key(str(loc[-1]), tuple(owner.model_fields) if owner is not None else ())


def _likely_key(key: str, known: Sequence[str]) -> str:
    likely = nearest(key, known)
    if likely is not None:
        return f"did you mean `{likely}`?"
    return f"the keys here are {', '.join(known)}"


def _described(loc: Path, model: type[BaseModel]) -> str:
    owner = _model_at(loc, model)
    key = str(loc[-1])
    description = (
        owner.model_fields[key].description if owner and key in owner.model_fields else ""
    )
    first = (description or "").split(". ")[0].rstrip(".")
    return f"{key} is {first[0].lower()}{first[1:]}" if first else f"write {key} = …"
