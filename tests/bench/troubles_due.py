"""What each trouble of the works must show on, and within what time; one row a trouble.

The times are those within which its signals can tell it, by common practice of the trade; where
a trouble shows only with work in the tank, the wait for the next rack (5 min) or barrel (10 to
30 min) is part of it. Troubles of one party run together: none touches what another shows on.
"""

from __future__ import annotations

from dataclasses import dataclass

MIN, H = 60.0, 3600.0
NO_SIGNAL = "no signal tells it: a clamp meter, entered as a calibration"


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """How long some troubles are watched together, and how fast."""

    span: str
    speed: int


PARTIES = {
    "a": Party(span="45min", speed=60),
    "b": Party(span="35min", speed=60),
    "c": Party(span="35min", speed=60),
    "d": Party(span="35min", speed=60),
    "e": Party(span="35min", speed=60),
    "f": Party(span="35min", speed=60),
    "k": Party(span="150s", speed=2),
    "l": Party(span="150s", speed=2),
    "m": Party(span="150s", speed=2),
    "p": Party(span="3h", speed=150),
    "q": Party(span="3h", speed=150),
    "r": Party(span="3h", speed=150),
    "w": Party(span="9h", speed=300),
}
"""Links keep wall time, so that their troubles are watched at nearly the speed of the world."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One trouble."""

    party: str
    on: str
    """Pattern of the alarms, findings and links that speak of it and of nothing else."""
    within_s: float
    since: str
    """Why this long."""
    unreadable: bool = False
    """Whether a value that cannot be read is how it shows; a busy machine can have that too."""


def _due(party: str, on: str, within_s: float, since: str, *, unreadable: bool = False) -> Due:
    return Due(party=party, on=on, within_s=within_s, since=since, unreadable=unreadable)


DUE: dict[str, Due] = {
    # heat
    "set-back-not-restored": _due("p", r"nickel-4\b.*temperature", 15 * MIN, "shift start"),
    "element-burns-out": _due("p", r"soak-clean-2\.(heater|temp)", 3 * H, "sags over 1 to 3 h"),
    "heater-fails": _due("a", r"nickel-2\b.*(temp|heat)", 60 * MIN, "falls 2 to 5 K/h"),
    "heater-sticks-on": _due("p", "copper-strike.*(temp|heat)", 30 * MIN, "2 K at 5 K/h"),
    "cooling-lost": _due("p", "zinc-2.*temp", 3 * H, "1 to 2 K/h"),
    "sensor-opens": _due("a", r"nickel-1\b.*temp", 1 * MIN, "at once", unreadable=True),
    "probe-drifts": _due("p", r"nickel-3\b.*temp", 3 * H, "1 to 3 K of bias"),
    "probe-pulled-out": _due("a", r"(^|[^-])electroclean.*temp", 5 * MIN, "5 to 20 K/min"),
    "dryer-cold": _due("a", "rack-dry", 15 * MIN, "10 K under"),
    "oven-low": _due("p", "bake-oven", 60 * MIN, "until it is under its soak"),
    "oven-high": _due("b", "bake-oven", 30 * MIN, "until it is over its limit"),
    # liquid
    "top-up-fails": _due("w", "soak-clean-1.*level", 8 * H, "50 mm at 8 mm/h"),
    "top-up-sticks-open": _due("b", "copper-strike.*level", 30 * MIN, "10 to 100 mm/h"),
    "tank-leaks": _due("a", r"chromium\.level", 10 * MIN, "50 mm at 30 L a minute"),
    "level-probe-sticks": _due("w", r"nickel-4\b.*level", 4 * H, "flat over 4 h"),
    "rinse-water-off": _due(
        "a", r"(^|[^-])rinse-6\.(cond|flow|rinse)", 30 * MIN, "two racks without a fall"
    ),
    "rinse-probe-dry": _due(
        "p", r"(^|[^-])rinse-5\.(cond|rinse)", 60 * MIN, "no steps though loads pass"
    ),
    "wrong-liquid": _due("b", r"(^|[^-])rinse-3", 5 * MIN, "jumps in a minute"),
    "passivate-drifts": _due("w", r"passivate\.ph", 8 * H, "0.1 to 0.3 a shift"),
    "nickel-ph-climbs": _due("w", r"nickel-1\b.*ph", 8 * H, "0.05 to 0.3 a 1000 A·h and m3"),
    "air-lost": _due("b", r"acid-copper-.*air", 3 * MIN, "at once"),
    "sparger-plugs": _due("a", r"nickel-2\b.*air", 24 * H, "slowly"),
    "filter-clogs": _due("a", r"nickel-1\b.*filter", 15 * MIN, "fills in 5 min here"),
    "filter-bypassed": _due("a", r"nickel-3\b.*filter", 30 * MIN, "in one step"),
    "pump-runs-dry": _due("a", r"acid-copper-2\b.*(filter|pump)", 5 * MIN, "at once"),
    "pump-draws-air": _due("b", r"nickel-4\b.*(filter|pump)", 30 * MIN, "pressure trembles"),
    # current
    "mains-dips": _due("f", "(works|rectifier-|nickel-|air|line)", 1 * MIN, "at once"),
    "meter-creeps": _due("w", "(rectifier-|copper-)strike", 8 * H, "over a shift"),
    "output-disagrees": _due(
        "a", r"copper-3(?!\.(pressure|temp|level))", 10 * MIN, "5 min, once a rack is in"
    ),
    "bar-salted": _due("q", r"(voltage|\bbar\b|cell)", 3 * H, "three visits"),
    "device-lost": _due("b", "nickel-3.*ripple", 15 * MIN, "10 min, once a rack is in"),
    "phase-lost": _due("a", "zinc-1.*ripple", 35 * MIN, "5 min, once a barrel is in"),
    "voltage-limit": _due(
        "a", r"(rectifier-|copper-)strike(?!\.(temp|level))", 15 * MIN, "10 min, with a rack"
    ),
    "fan-blocked": _due("b", "copper-1.*heat-sink", 20 * MIN, "a trend of minutes"),
    "rectifier-trips": _due("a", "nickel-4.*(fault|current)", 1 * MIN, "at once"),
    "control-hunts": _due("b", r"copper-3(?!\.(pressure|temp|level))", 30 * MIN, "swings"),
    "shunt-wrong": _due("d", r"nickel-2(?!\.(pressure|temp|level|ph))", 0.0, NO_SIGNAL),
    "set-point-left": _due(
        "b", r"nickel-1(?!\.(pressure|temp|level|ph))", 8 * MIN, "minute 1 of the next rack"
    ),
    "module-lost": _due(
        "p", r"barrel-nickel\.(shares|module)", 45 * MIN, "once a barrel is in"
    ),
    "polarity-wrong": _due(
        "a", r"zinc-3(?!\.(temp|level|ph))", 32 * MIN, "once a barrel is in"
    ),
    "bar-not-seated": _due(
        "b",
        r"(?<!extract-)chromium(?!-red|\.level|\.temp)",
        7 * MIN,
        "1 min, once a rack is in",
    ),
    "short": _due(
        "b", r"copper-2(?!\.(pressure|temp|level))", 6 * MIN, "at once, once a rack is in"
    ),
    "current-strays": _due("e", r"nickel-3(?!\.(pressure|temp|level|ph))", 24 * H, "slowly"),
    "bus-joint-loose": _due(
        "b", r"nickel-2(?!\.(pressure|temp|level|ph))", 15 * MIN, "10 min, once a rack is in"
    ),
    "contacts-bad": _due(
        "a", r"copper-1(?!\.(pressure|temp|level))", 15 * MIN, "10 min, once a rack is in"
    ),
    "anodes-polarise": _due(
        "b", r"(rectifier-|copper-)strike(?!\.(temp|level))", 15 * MIN, "minutes"
    ),
    "electroclean-weak": _due(
        "b", r"(?<!barrel-)electroclean(?!\.(temp|level))", 7 * MIN, "once a rack is in"
    ),
    # movement
    "conveyor-stalls": _due(
        "c", r"(overdue|rack\b|conveyor)", 10 * MIN, "over the longest dip"
    ),
    "crane-stalls": _due("d", r"(overdue|barrel\b|crane)", 15 * MIN, "1.5 cycles"),
    "drip-short": _due("q", r"(^|[^-])rinse-\d\.cond", 8 * H, "larger steps"),
    "barrel-overloaded": _due("c", "(barrel-electroclean|zinc-)", 35 * MIN, "once one is in"),
    "barrel-stands": _due(
        "a", r"zinc-2(?!\.(temp|level|ph))", 35 * MIN, "at once, once a barrel is in"
    ),
    "dangler-worn": _due(
        "b", r"zinc-3(?!\.(temp|level|ph))", 35 * MIN, "10 min, once a barrel is in"
    ),
    # what serves the lines
    "ph-probe-coated": _due("q", r"neutralise\.ph", 1 * H, "overshoots after doses"),
    "ph-glass-broken": _due("a", r"discharge\.ph", 5 * MIN, "stuck near 7"),
    "hypochlorite-empty": _due("a", "(hypochlorite|cyanide-ox)", 10 * MIN, "flat for 10 min"),
    "reducer-empty": _due("a", "(reducer|chromium-red)", 10 * MIN, "stays high"),
    "caustic-empty": _due("b", "(caustic|neutralise)", 10 * MIN, "out over 10 min"),
    "flow-surges": _due("d", r"neutralise\.flow", 5 * MIN, "peaks of 2 min apart"),
    "bath-dumped": _due("e", "neutralise", 3 * MIN, "jumps at the sump"),
    "polymer-out": _due("p", "(polymer|settler|flocculate)", 1 * H, "turbid in 20 to 60 min"),
    "press-blinded": _due("a", "filter-press", 8 * H, "pressure early in its run"),
    "press-cloth-torn": _due("c", "(settler|discharge|filter-press)", 1 * H, "turbid"),
    "resin-spent": _due("p", "water-supply", 1 * H, "over 20 to 50 µS/cm"),
    "fan-stops": _due("a", "extract-chromium", 1 * MIN, "at once"),
    "fan-belt-slips": _due("b", "extract-chromium", 30 * MIN, "at once"),
    "mesh-pad-loaded": _due("c", "extract-chromium", 8 * H, "over its tested drop"),
    "scrubber-dry": _due("a", "scrubber", 10 * MIN, "at once"),
    "scrubber-ph-falls": _due("c", r"scrubber\.ph", 30 * MIN, "out over 15 min"),
    "make-up-air-lost": _due("d", "extract-", 1 * H, "at once"),
    # links
    "unit-silent": _due(
        "k", "(rectifier-nickel-1|rack-rectifiers)", 1 * MIN, "3 polls", unreadable=True
    ),
    "gateway-drops": _due(
        "l", "(rack-rectifiers|rectifier-nickel-1)", 1 * MIN, "3 polls", unreadable=True
    ),
    "services-drop": _due(
        "m", "(services|bake-oven|neutralise)", 1 * MIN, "3 polls", unreadable=True
    ),
    "subscription-lost": _due(
        "k",
        "(services|bake-oven|neutralise)",
        1 * MIN,
        "keep-alives of some seconds",
        unreadable=True,
    ),
    "unit-frozen": _due(
        "q", r"rectifier-nickel-4\.(current.frozen|.*silent)", 30 * MIN, "flat for 30 min"
    ),
    "services-frozen": _due(
        "r", "(services|neutralise|scrubber|discharge)", 30 * MIN, "flat for 30 min"
    ),
    "value-uncertain": _due("l", r"discharge\.ph", 1 * MIN, "at once", unreadable=True),
}
