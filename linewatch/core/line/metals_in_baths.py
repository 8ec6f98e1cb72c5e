"""The metal in each bath: predicted from the last analysis, charge, loads, salts and level.

Anodes that were hung are no metal in the bath: only what the charge dissolves is.
"""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

from linewatch.core import units
from linewatch.core.additions.metal import MetalAccount, metal_account_from
from linewatch.core.electrochemistry.metals import deposit
from linewatch.core.electrochemistry.uncertainty import COVERAGE
from linewatch.core.errors import UnitMismatch
from linewatch.core.events import Event, EventKind, Part
from linewatch.core.integration.charge import UAS_PER_AH
from linewatch.core.laboratory.analyses import WHAT as ANALYSED
from linewatch.core.laboratory.estimates import WHAT as BALANCE
from linewatch.core.view import ConcentrationPicture

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.plan import AdditivePlan, BathPlan, LinePlan, TankPlan
    from linewatch.core.readings import Moment

LOSSES = ("level-runs-out", "leaks-slowly")
"""Rules that tell that a tank loses more than water."""
METAL_KINDS = frozenset({"metal", "concentration"})
"""What a reading by hand on a bath is called when it tells its metal [g/L]."""
DM2_PER_M2 = 100.0


class Metals:
    """The accounts of metal of all baths that lay down one metal.

    Args:
        plan: The line as it is configured.
    """

    def __init__(self, plan: LinePlan) -> None:
        self.plan = plan
        self.accounts: dict[str, MetalAccount] = {}
        self._configured: dict[str, list[float]] = {}
        """(analysis, volume) of the configuration that an account began with."""
        self._seen: dict[str, list[float]] = {}
        """(mass laid down [g], cathodic charge [µA s]) up to which it has gone on, by tank."""
        self.lost: set[str] = set()
        """Baths from which solution ran out since their last analysis."""
        self._bath = {bath.id: bath for bath in plan.baths}
        self._tanks: dict[str, list[TankPlan]] = {bath.id: [] for bath in plan.baths}
        for tank in plan.tanks:
            if tank.bath in self._tanks:
                self._tanks[tank.bath].append(tank)

    def settle(self, line: Line) -> None:
        """Begin where the configuration tells another analysis, or a first one."""
        self._go_on(line)
        for bath in self.plan.baths:
            if bath.metal_g_per_l is None or bath.volume_l is None or not _is_one(bath):
                self.accounts.pop(bath.id, None)
                continue
            told = [bath.metal_g_per_l, bath.volume_l]
            if bath.id not in self.accounts or self._configured.get(bath.id) != told:
                self.accounts[bath.id] = MetalAccount(
                    measured_g_per_l=bath.metal_g_per_l, volume_l=bath.volume_l
                )
                self._configured[bath.id] = told
        self._go_on(line)

    def look(self, line: Line, at: Moment) -> None:  # noqa: ARG002 - as studies look
        """Go on with every account."""
        self._go_on(line)

    def _go_on(self, line: Line) -> None:
        for name in self.accounts:
            if any(loses_solution(line, tank.id) for tank in self._tanks[name]):
                self.lost.add(name)
        for name, account in self.accounts.items():
            for laid_g, dissolved_g, tank, now in self._new(line, name):
                account.laid_g += laid_g
                account.dissolved_g += dissolved_g
                self._seen[tank] = now

    def _new(self, line: Line, name: str) -> Iterable[tuple[float, float, str, list[float]]]:
        """Yield what each tank laid down and dissolved since it was last counted [g]."""
        bath = self._bath[name]
        if bath.deposit is None:
            return
        k = deposit(dict(bath.deposit.parts)).equivalent_g_per_ah
        for tank in self._tanks[name]:
            plating = line.platings.get(tank.id)
            if plating is None:
                continue
            now = [plating.mass_g(), float(plating.cathodic_uas())]
            before = self._seen.get(tank.id, now)
            charge_ah = (now[1] - before[1]) / UAS_PER_AH
            dissolved_g = bath.deposit.anode_efficiency * k * charge_ah
            yield now[0] - before[0], dissolved_g, tank.id, now

    def carry_out(self, line: Line, name: str, area_dm2: float) -> None:
        """Let a load that leaves carry solution out."""
        account, bath = self.accounts.get(name), self._bath.get(name)
        if account is None or bath is None or bath.drag_out_ml_per_m2 is None:
            return
        self._go_on(line)
        litres = bath.drag_out_ml_per_m2 / 1000.0 * area_dm2 / DM2_PER_M2
        account.carry_out(litres, self.solution_l(line, name)[0])

    def added(self, name: str, additive: AdditivePlan | None, amount_ml: float) -> None:
        """Take what an addition, or its counter-entry, brings of metal."""
        account = self.accounts.get(name)
        if account is not None and additive is not None and not additive.is_anode:
            account.salts_g += additive.metal_ratio * amount_ml

    def hear_analysis(self, line: Line, event: Event) -> list[Event]:
        """Begin anew with what an analysis of the metal found; tell of the time before it."""
        account = self.accounts.get(event.subject)
        found = self._found_g_per_l(event)
        if account is None or found is None:
            return []
        self._go_on(line)
        self.lost.discard(event.subject)
        solution_l, by_level = self.solution_l(line, event.subject)
        anew = account.analysed(
            found,
            event.utc_ns,
            self._level_mm(line, event.subject) if by_level else None,
            solution_l,
        )
        self.accounts[event.subject] = anew
        values: dict[str, Part] = {
            "what": BALANCE,
            "before_g": account.measured_g_per_l * account.volume_l,
            "found_g": anew.measured_g_per_l * anew.volume_l,
            "brought_g": account.dissolved_g + account.salts_g,
            "laid_g": account.laid_g,
            "carried_g": account.dragged_g,
            "unexplained_g_per_l": anew.unexplained_g_per_l,
            "fingerprint": line.plan.fingerprint,
        }
        told = Event(
            kind=EventKind.ANALYSIS,
            subject=event.subject,
            utc_ns=event.utc_ns,
            mono_ns=event.mono_ns,
            text=f"predicted and found differ by {anew.unexplained_g_per_l or 0.0:+.2f} g/L",
            values=values,
        )
        # The first analysis follows a number of the configuration, of no known time.
        return [told] if account.utc_ns is not None else []

    def _found_g_per_l(self, event: Event) -> float | None:
        """Return the metal that an analysis or a reading by hand found [g/L]; None: other."""
        values, found = event.values, event.values.get("value")
        if not isinstance(found, int | float):
            return None
        if values.get("kind") in METAL_KINDS:
            return float(found)
        bath = self._bath.get(event.subject)
        if values.get("what") != ANALYSED or bath is None or bath.deposit is None:
            return None
        metal = deposit(dict(bath.deposit.parts)).name
        if str(values.get("substance")).casefold() != metal.casefold():
            return None
        try:
            return units.convert(float(found), str(values.get("unit")), "g/L")
        except UnitMismatch:
            return None

    def solution_l(self, line: Line, name: str) -> tuple[float, bool]:
        """Return the solution that is there now [L], and whether a level told it."""
        litres, by_level = self.accounts[name].volume_l, False
        for tank in self._tanks[name]:
            level = line.sure(f"{tank.id}.level") if tank.surface_m2 else None
            window = tank.windows.get("level")
            wanted = usual_level_mm(tank)
            if level is None or wanted is None or window is None:
                continue
            # What runs out takes its metal along, until an analysis tells what is left.
            if name not in self.lost:
                litres += (level - wanted) * (tank.surface_m2 or 0.0)
                by_level = True
        return max(1.0, litres), by_level

    def _level_mm(self, line: Line, name: str) -> float | None:
        levels = [line.good(f"{tank.id}.level") for tank in self._tanks[name]]
        told = [each for each in levels if each is not None]
        return sum(told) / len(told) if told else None

    def picture(self, line: Line, bath: BathPlan) -> ConcentrationPicture | None:
        """Return the predicted concentration of a bath; None where nothing tells it."""
        account = self.accounts.get(bath.id)
        if account is None or bath.deposit is None:
            return None
        now = MetalAccount(**account.state())
        doubt_g = 0.0
        for laid_g, dissolved_g, _, _ in self._new(line, bath.id):
            now.laid_g += laid_g
            now.dissolved_g += dissolved_g
        efficiency = bath.deposit.efficiency
        if efficiency.value > 0.0:
            spread = max(efficiency.high - efficiency.value, efficiency.value - efficiency.low)
            doubt_g = now.laid_g * spread / efficiency.value / 3**0.5
        solution_l, by_level = self.solution_l(line, bath.id)
        return ConcentrationPicture(
            metal=deposit(dict(bath.deposit.parts)).name,
            predicted_g_per_l=now.predicted_g_per_l(solution_l),
            uncertainty_g_per_l=COVERAGE * hypot(doubt_g, now.dragged_g / 3**0.5) / solution_l,
            measured_g_per_l=now.measured_g_per_l,
            measured_utc_ns=now.utc_ns,
            dissolved_g=now.dissolved_g,
            laid_g=now.laid_g,
            dragged_g=now.dragged_g,
            salts_g=now.salts_g,
            usual_l=now.volume_l,
            solution_l=solution_l,
            by_level=by_level,
            has_lost=bath.id in self.lost,
            unexplained_g_per_l=now.unexplained_g_per_l,
            drag_out_ml_per_m2=bath.drag_out_ml_per_m2,
            volume_from=bath.volume_from,
        )

    def state(self) -> dict[str, Any]:
        """Return all that the future depends on, as JSON knows it."""
        return {
            "accounts": {name: each.state() for name, each in self.accounts.items()},
            "configured": self._configured,
            "seen": self._seen,
            "lost": sorted(self.lost),
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.accounts = {
            name: metal_account_from(each)
            for name, each in kept["accounts"].items()
            if name in self._bath
        }
        self.lost = {name for name in kept.get("lost", ()) if name in self._bath}
        self._configured = {name: list(told) for name, told in kept["configured"].items()}
        self._seen = {name: list(seen) for name, seen in kept["seen"].items()}


def loses_solution(line: Line, tank: str) -> bool:
    """Say whether a tank is told to lose more than water."""
    alarms = line.alarms
    known = (alarms.number.get(f"{tank}.{each}") for each in LOSSES)
    return any(number is not None and alarms.active[number] for number in known)


def usual_level_mm(tank: TankPlan) -> float | None:
    """Return the level that a tank should have: its target, else the middle of its window."""
    window = tank.windows.get("level")
    if window is None:
        return None
    if window.target is not None:
        return window.target
    if window.low is None or window.high is None:
        return None
    return (window.low + window.high) / 2.0


def _is_one(bath: BathPlan) -> bool:
    """Say whether a bath lays down one metal: of an alloy no single concentration is meant."""
    return bath.deposit is not None and len(bath.deposit.parts) == 1
