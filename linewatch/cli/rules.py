"""The rule library at the desk: which rule watches where, and which signals are missing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from linewatch.cli import app

if TYPE_CHECKING:
    from linewatch.core.plan import Window
    from linewatch.core.rules.rule import Rule


NO_SIGNAL = "no signal of its own: it is told by what several units do at once"


@app.command
def rules(name: str = "", *, file: Path | None = None) -> int:
    """List what goes wrong on lines that linewatch looks for, and where it can.

    Without a configuration, every rule with the signals that it needs; with one, also the
    positions that each watches, and what would have to be measured where it cannot.

    Args:
        name: One rule by its name or its alarm's text, told whole: cause, consequence, first
            checks.
        file: A configuration.
    """
    from linewatch.core.rules.library import BY_NAME
    from linewatch.wiring.meant import Thing, meant

    if name:
        known = [Thing(id=each.name, kind="rule", name=each.title) for each in BY_NAME.values()]
        name = meant(known, name, f"tell of rule {name}", ("rule",))
    rows = _watching(file) if file is not None else {}
    for each in BY_NAME.values():
        if name and each.name != name:
            continue
        needs = ", ".join((*each.needs, *(f"{kind} in its tank" for kind in each.beside)))
        mark = " (never made quiet)" if each.is_safety else ""
        print(f"{each.name:<20}{each.title}{mark}; needs {needs or NO_SIGNAL}")
        if name:
            print(f"  cause         {each.cause}")
            print(f"  consequence   {each.consequence}")
            print(f"  first checks  {each.full_action()}")
            print(f"  its figure    {each.evidence} [{each.unit}], limit {each.limit:g}")
            if each.evidence_inside:
                print(f"  or told by    {each.evidence_inside}")
        if file is not None:
            for line in rows[each.name]:
                print(f"  {line}")
    return 0


def _watching(file: Path) -> dict[str, list[str]]:
    """Return by rule where it watches in a configuration, and what it lacks elsewhere."""
    from linewatch import config
    from linewatch.core.rules.health import TURNING
    from linewatch.core.rules.library import RULES, missing, unfit

    plan = config.read(file).plan
    alarms = {condition.id for condition in plan.conditions}
    windows: dict[str, dict[str, Window]] = {}
    for tag in plan.tags.values():
        windows.setdefault(tag.subject, {})[tag.id.split(".", 1)[1]] = tag.window
    cyanide = {tank.id for tank in plan.tanks if tank.holds_cyanide}
    positions: dict[str, str] = {tank.id: tank.kind for tank in plan.tanks}
    turning = {tank.id for tank in plan.tanks if tank.turning is not None}
    turning |= {tag.subject for tag in plan.tags.values() if tag.kind == "speed"}
    beside = {
        each.id: frozenset(
            tag.kind for tag in plan.tags.values() if tag.subject in dict(each.feeds)
        )
        | ({TURNING} if turning & set(dict(each.feeds)) else set())
        for each in plan.rectifiers
    }
    positions.update(dict.fromkeys(beside, "rectifier"))
    found: dict[str, list[str]] = {}
    for rule in RULES:
        places = [place for place, kind in positions.items() if kind in rule.of]
        watches = [p for p in (*places, plan.line_id) if f"{p}.{rule.name}" in alarms]
        lacks = []
        for place in (each for each in places if each not in watches):
            own, fed = windows.get(place, {}), beside.get(place, frozenset())
            why = unfit(rule, own, fed, holds_cyanide=place in cyanide)
            lack = missing(rule, positions[place], own, fed)
            lacks.append(f"{place}: {why or _lacking(lack)}")
        if not watches and not lacks:
            lacks = [_no_place(rule, len(plan.rectifiers))]
        found[rule.name] = [f"watches {', '.join(watches) or 'nowhere'}", *lacks]
    return found


def _lacking(signals: tuple[str, ...] | None) -> str:
    """Return which signals a rule lacks; none: somebody has switched it off."""
    return f"no {', no '.join(signals)}" if signals else "switched off here"


def _no_place(rule: Rule, rectifiers: int) -> str:
    """Return why a rule watches nowhere in a configuration that has no place for it."""
    if rule.of == ("line",):
        return f"it needs {rule.limit:g} rectifiers, there are {rectifiers}"
    return f"it is for positions of another kind: {', '.join(rule.of)}"
