"""What a person did, as one plain sentence: for the journal, the events and whoever reads them.

Rule 1: the record keeps ids; a sentence has names. What was typed stays as it was typed.
Rule 2: what an older record does not have is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

STATES: Final[dict[str, str]] = {
    "producing": "producing",
    "heating-up": "heating up",
    "planned-stop": "stopped as planned",
    "out-of-service": "out of service",
}
DECIDED: Final[dict[str, str]] = {
    "held": "held load {}",
    "released": "released load {}",
    "rework": "decided that load {} is reworked",
    "scrap": "decided that load {} is scrapped",
}
_MINUTE_S: Final = 60.0
_HOUR_S: Final = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Naming:
    """How a line calls things."""

    called: Callable[[str], str]
    """What people call an id, or the id of an alarm."""
    clock: Callable[[int], str] = str
    """Date and time of a wall time [ns since 1970]."""
    measures: Mapping[str, str] = field(default_factory=dict)
    """'g' or 'mL', by 'bath/additive'."""


@dataclass(frozen=True, slots=True)
class _Said:
    """The parts of a command."""

    parts: Mapping[str, object]
    naming: Naming

    def text(self, key: str) -> str:
        """Return a part as it was typed; '' if there is none."""
        part = self.parts.get(key)
        return "" if part is None else str(part)

    def name(self, key: str, otherwise: str = "something") -> str:
        """Return what people call the thing that a part names."""
        return self.naming.called(self.text(key)) if self.text(key) else otherwise

    def number(self, key: str) -> float | None:
        """Return a part that is a number."""
        part = self.parts.get(key)
        return float(part) if isinstance(part, int | float) else None

    def lasting(self, key: str) -> str:
        """Return a part that is a time [s]: '90 s', '30 min', '2 h'."""
        seconds = self.number(key) or 0.0
        for unit_s, unit in ((_HOUR_S, "h"), (_MINUTE_S, "min")):
            if seconds >= unit_s:
                return f"{seconds / unit_s:g} {unit}"
        return f"{seconds:g} s"

    def listed(self, *pairs: tuple[str, str]) -> str:
        """Return the parts that are there, each behind its word: 'lot 7, reference Q'."""
        return ", ".join(
            f"{word} {self._shown(key)}".strip() for key, word in pairs if self.parts.get(key)
        )

    def _shown(self, key: str) -> str:
        number = self.number(key)
        if number is None:
            return self.text(key)
        return self.naming.clock(int(number)) if key.endswith("utc_ns") else f"{number:g}"


def sentence(what: str, parts: Mapping[str, object], naming: Naming) -> str:
    """Return what a command did, without who and why: 'put load 4113 into 31 Bake oven'.

    Args:
        what: Name of the command, as the store keeps it.
        parts: Its parts, as the store keeps them.
        naming: How the line calls things.

    Returns:
        The words; '' for a command that is not known.
    """
    tell = _SENTENCES.get(what)
    return tell(_Said(parts, naming)) if tell is not None else ""


def _with(words: str, more: str, link: str = ", ") -> str:
    return f"{words}{link}{more}" if more else words


def _state(said: _Said) -> str:
    state = said.text("state")
    which = said.name("track", "the line")
    return f"said that {which} is {STATES.get(state, state)}"


def _reading(said: _Said) -> str:
    value = f"{said.number('value') or 0.0:g} {said.text('unit')}".strip()
    words = f"read {said.text('kind')} {value} by hand at {said.name('subject')}"
    return _with(words, said.text("note"), ": ")


def _addition(said: _Said) -> str:
    which = f"{said.text('bath')}/{said.text('additive')}"
    name = said.naming.called(which)
    additive = said.text("additive") if name == which else name
    amount = said.number("amount_ml") or 0.0
    dose = f"{abs(amount):g} {said.naming.measures.get(which, 'mL')} of {additive}"
    if said.parts.get("corrects") is not None:
        words = f"took back entry {said.text('corrects')}: {dose} in {said.name('bath')}"
    else:
        words = f"added {dose} to {said.name('bath')}"
    return _with(words, said.listed(("lot", "lot")))


def _dummy(said: _Said) -> str:
    now = "now plates dummies" if said.parts.get("begins") else "no longer plates dummies"
    return f"said that {said.name('tank')} {now}"


def _card(said: _Said) -> str:
    told = said.listed(
        ("part", "part"),
        ("amount", "pieces or kg"),
        ("area_dm2", "area in dm2"),
        ("lot", "lot"),
        ("reference", "reference"),
        ("rework_of", "rework of load"),
    )
    return _with(f"wrote the card of load {said.text('load')}", told, ": ")


def _place(said: _Said) -> str:
    is_out = said.parts.get("is_in") is False
    how = "was lifted out of" if is_out else "is in"
    return f"said that load {said.text('load')} {how} {said.name('tank')}"


def _bake(said: _Said) -> str:
    if said.parts.get("is_in") is False:
        return f"took load {said.text('load')} out of {said.name('oven', 'its oven')}"
    return f"put load {said.text('load')} into {said.name('oven', 'an oven')}"


def _decision(said: _Said) -> str:
    decision = said.text("decision")
    return DECIDED.get(decision, f"decided {decision} about load {{}}").format(
        said.text("load")
    )


def _finding(said: _Said) -> str:
    place = said.listed(("place", "at"))
    about = f"{said.text('what')} {place}".strip()
    return f"inspected load {said.text('load')}, {about}: {said.text('found')}"


def _analysis(said: _Said) -> str:
    value = f"{said.number('value') or 0.0:g} {said.text('unit')}".strip()
    words = f"analysed {said.name('subject')}: {said.text('substance')} {value}"
    more = said.listed(
        ("sampled_utc_ns", "sampled"),
        ("method", "method"),
        ("sample", "sample"),
        ("corrects", "in place of analysis"),
        ("note", ""),
    )
    return _with(words, more)


def _check(said: _Said) -> str:
    items = said.text("item").replace(",", ", ").replace("  ", " ")
    words = f"looked at {said.name('subject')}: {items} {said.text('found')}"
    return f"{words} (not as it should be)" if said.parts.get("is_bad") else words


def _notice(said: _Said) -> str:
    did = "told of alarms by" if said.parts.get("did") else "could not tell of alarms by"
    return _with(f"{did} {said.text('way')}", said.text("text"), ": ")


def _capture(said: _Said) -> str:
    if not said.number("for_s"):
        return f"ended the capture of frames of {said.name('subject')}"
    return f"had the frames of {said.name('subject')} captured for {said.lasting('for_s')}"


_SENTENCES: Final[dict[str, Callable[[_Said], str]]] = {
    "Acknowledge": lambda said: f"acknowledged {said.name('alarm')}",
    "ResetLatch": lambda said: f"reset the latch of {said.name('alarm')}",
    "Shelve": lambda said: f"put {said.name('alarm')} aside for {said.lasting('for_s')}",
    "Unshelve": lambda said: f"brought {said.name('alarm')} back",
    "TakeOutOfService": lambda said: f"took {said.name('subject')} out of service",
    "ReturnToService": lambda said: f"put {said.name('subject')} back into service",
    "SetLineState": _state,
    "HandReading": _reading,
    "WriteNote": lambda said: f"noted at {said.name('subject')}: {said.text('text')}",
    "LogAddition": _addition,
    "MarkDummy": _dummy,
    "MarkMeter": lambda said: (
        f"said that the meter of {said.name('rectifier')} was {said.text('what')}"
    ),
    "LoadCard": _card,
    "PlaceLoad": _place,
    "BakeLoad": _bake,
    "DecideLoad": _decision,
    "InspectLoad": _finding,
    "LogAnalysis": _analysis,
    "DoDuty": lambda said: _with(f"did what was due: {said.name('duty')}", said.text("note")),
    "LogCheck": _check,
    "SignSheet": lambda said: _with("signed the shift's check sheet", said.text("note"), ": "),
    "TellNotice": _notice,
    "CaptureFrames": _capture,
    "EndCollecting": lambda _: "ended the recording",
}
"""Every command, by the name that the store keeps."""
