"""A configuration file in, the works that it describes out, or every fault that it has."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from linewatch.config.faults import Faults
from linewatch.config.library import library, library_texts
from linewatch.config.line import Reading, line_of
from linewatch.config.links import LinkSettings
from linewatch.config.sections import sections_of
from linewatch.config.text import text_of
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.plan import LinePlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.config.model import RecipeSection
    from linewatch.config.sections import Sections

_IN_BLOCKS = re.compile(r"^\[\[recipe\]\]", re.MULTILINE)
_TABLES = frozenset({".csv", ".tsv", ".xlsx"})
_FROM_LIBRARY = "# From the bath library that comes with linewatch, as it was in force."


_OTHER_FILES = (
    (frozenset({"about", "recipe"}), "a library of baths, read beside every line"),
    (frozenset({"way", "heartbeat"}), "a file of notices (see `linewatch notices list`)"),
    (frozenset({"theme", "plain", "bell", "units", "keys"}), "the settings of a screen"),
)
"""Files of ours that are no line, by the only keys that they may have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """A line with its links, and the text that says so."""

    name: str
    """The file, as the person named it."""
    plan: LinePlan
    links: tuple[LinkSettings, ...]
    text: str
    """The file's text, and below it the recipes of the bath library that it names: a later
    library cannot change what was in force."""
    fingerprint: str
    """SHA-256 of that text, in hex."""

    def with_addresses(self, addresses: Mapping[str, str]) -> Works:
        """Return the same works with other link addresses; all else in the text is kept.

        Raises:
            ConfigurationFaulty: an address is faulty, or names a link that does not exist.
        """
        known = {settings.link.id for settings in self.links}
        faults = Faults()
        for link in addresses.keys() - known:
            faults.unknown(f"link.{link}", "link", link, known)
        if faults.found:
            raise ConfigurationFaulty(self.name, tuple(faults.found))
        return read_text(replace_addresses(self.text, addresses), self.name)


def read(path: Path) -> Works:
    """Return the works that a file describes.

    Raises:
        ConfigurationFaulty: the file cannot be read, or has faults; all of them are told.
    """
    return read_text(text_of(path), str(path))


def read_text(text: str, name: str) -> Works:
    """Return the works that a text describes; `name` stands for the file in messages.

    Raises:
        ConfigurationFaulty: it has faults; all of them are told.
    """
    faults = Faults()
    tables = parsed(text, name)
    refuse_others(tables, name)
    sections = sections_of(tables, faults)
    own = {recipe.id: recipe for recipe in sections.recipes}
    text = _whole(text, sections, own)
    fingerprint = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    line = line_of(
        Reading(sections=sections, recipes={**library(), **own}), fingerprint, faults
    )
    if faults.found or line is None:
        raise ConfigurationFaulty(name, tuple(faults.found))
    links = tuple(_beside(link, Path(name).parent) for link in line.links)
    return Works(name=name, plan=line.plan, links=links, text=text, fingerprint=fingerprint)


def _whole(text: str, sections: Sections, own: Mapping[str, RecipeSection]) -> str:
    """Return a text with the recipes of the library that it names but does not hold."""
    named = [each.recipe for each in sections.baths]
    named += [each.recipe for each in sections.tanks]
    wanted = dict.fromkeys(name for name in named if name and name not in own)
    blocks = [library_texts()[name] for name in wanted if name in library_texts()]
    if not blocks or (own and not _IN_BLOCKS.search(text)):
        # Nothing to add; or its recipes stand in one list, below which no table may stand.
        return text
    return "\n\n".join((text.rstrip("\n"), _FROM_LIBRARY, *blocks)) + "\n"


def _beside(settings: LinkSettings, folder: Path) -> LinkSettings:
    """Let a link's files lie beside the configuration that names them."""
    link = settings.link
    files = {
        name: str(folder / file)
        for name in ("certificate", "own_certificate", "own_key", "secrets")
        if (file := getattr(link, name)) is not None and not file.startswith("env:")
    }
    return replace(settings, link=link.model_copy(update=files)) if files else settings


def refuse_others(tables: Mapping[str, object], name: str) -> None:
    """Refuse a file of ours that describes no line.

    Raises:
        ConfigurationFaulty: it is a library of baths, or somebody's settings.
    """
    if "line" in tables or not tables:
        return
    for keys, what in _OTHER_FILES:
        if set(tables) <= keys:
            raise ConfigurationFaulty(name, (f"this is {what}, not a line",))


def parsed(text: str, name: str) -> dict[str, object]:
    """Return a TOML text as tables.

    Raises:
        ConfigurationFaulty: it is no TOML; the line is told.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        if Path(name).suffix.lower() in _TABLES:
            told = "this is a table, not a line; `linewatch import-tags` reads register lists"
            raise ConfigurationFaulty(name, (told,)) from error
        raise ConfigurationFaulty(name, (_syntax(str(error)),)) from error
    except RecursionError as error:
        raise ConfigurationFaulty(name, ("nested too deep; no key needs that",)) from error


def replace_addresses(text: str, addresses: Mapping[str, str]) -> str:
    """Return a configuration's text with other addresses for some links, comments kept."""
    # Imported here: only the demo and commissioning change a text.
    import tomlkit

    document = tomlkit.parse(text)
    for link in document.get("link", ()):
        if link.get("id") in addresses:
            link["address"] = addresses[link["id"]]
    return tomlkit.dumps(document)


def _syntax(message: str) -> str:
    what, _, where = message.rpartition(" (at ")
    where = where.rstrip(")")
    remedy = "text stands in quotes, tables in [brackets], one key = value a line"
    return (
        f"{where or 'syntax'}: {(what or message)[0].lower()}{(what or message)[1:]}; {remedy}"
    )
