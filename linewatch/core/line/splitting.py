"""Whose charge it is, where one rectifier feeds several tanks: by what hangs there.

Rule 1: a tank's own account keeps to the shares of the configuration. What a load received
        goes by area, while other loads hang beside it; hanging alone, it received all.
Rule 2: where one of the areas is not known, the configured shares hold among the tanks that
        are occupied.

Equal density on all work in parallel is common practice and no more: bars and contacts differ,
and the ± of the areas does not tell of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.line.metal import shared
from linewatch.core.line.trips import Portion

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.line.loads import Loads
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan


class Splitting:
    """Counts each load's portion of the rectifiers that feed several tanks.

    Args:
        plan: The line.
    """

    def __init__(self, plan: LinePlan) -> None:
        self._feeds = {each.id: each.feeds for each in plan.rectifiers if len(each.feeds) > 1}
        self._of: dict[str, list[str]] = {}
        for name, feeds in self._feeds.items():
            for tank, _ in feeds:
                self._of.setdefault(tank, []).append(name)
        self._counted: dict[str, tuple[int, int]] = {}
        """Cathodic and anodic charge of each rectifier up to where it is counted."""

    def begun(self, tank: str) -> dict[str, Portion]:
        """Return the portions of a load that comes into a tank: nothing so far."""
        return {name: Portion() for name in self._of.get(tank, ())}

    def settle(self, loads: Loads, line: Line, tank: str) -> None:
        """Count up to now; before anything changes about a tank or the load in it.

        Only what happens on the line calls it, never a look at it: the sums would be rounded
        elsewhere, and the record fed again would not be the same.
        """
        for name in self._of.get(tank, ()):
            cathodic, anodic = self._more(line, name)
            ledger = line.rectifiers[name].ledger
            self._counted[name] = (ledger.cathodic, ledger.anodic)
            shares = self.shares(loads, name)
            for other, share in shares.items():
                portion = loads.stays[other].portions.get(name)
                if portion is None:
                    # It came in when the rectifier fed one tank alone.
                    continue
                portion.cathodic_uas += shared(cathodic, share)
                portion.anodic_uas += shared(anodic, share)
                if len(shares) > 1:
                    doubt = (1.0 - share) * _doubt(loads, shares)
                    portion.doubt_uas += shared(cathodic, share) * doubt
                    beside = [loads.stays[each].trip for each in shares if each != other]
                    portion.beside += [each for each in beside if each not in portion.beside]

    def _more(self, line: Line, name: str) -> tuple[int, int]:
        """Return (cathodic, anodic) charge of a rectifier that is not counted yet."""
        ledger = line.rectifiers[name].ledger
        before = self._counted.get(name, (ledger.cathodic, ledger.anodic))
        return ledger.cathodic - before[0], ledger.anodic - before[1]

    def shares(self, loads: Loads, rectifier: str) -> dict[str, float]:
        """Return each occupied tank's share of what a rectifier gives [1]; together 1."""
        there = {tank: share for tank, share in self._feeds[rectifier] if tank in loads.stays}
        areas = {tank: loads.area_in(tank)[0] for tank in there}
        known = {tank: area for tank, area in areas.items() if area}
        weights = known if len(known) == len(there) else there
        total = sum(weights.values())
        return {tank: weight / total for tank, weight in weights.items()} if total else {}

    def ratios(self, loads: Loads, line: Line, tank: str) -> tuple[float, float]:
        """Return what a tank's load gets, over what the configured shares would give it.

        Returns:
            (of all charge since it came in, of the present current) [1].
        """
        stay = loads.stays.get(tank)
        if stay is None or tank not in self._of:
            return 1.0, 1.0
        got = present = 1.0
        configured_uas = got_uas = 0
        since = stay.sums.get("cathodic", {})
        for name, portion in stay.portions.items():
            configured = dict(self._feeds[name]).get(tank, 0.0)
            now = self.shares(loads, name).get(tank, configured)
            charge = line.rectifiers[name].ledger.cathodic - since.get(name, 0)
            configured_uas += shared(charge, configured)
            got_uas += portion.cathodic_uas + shared(self._more(line, name)[0], now)
            present = now / configured if configured else 1.0
        if configured_uas > 0:
            got = got_uas / configured_uas
        return got, present

    def remember(self) -> dict[str, list[int]]:
        """Return how far each rectifier is counted."""
        return {name: list(counted) for name, counted in self._counted.items()}

    def recall(self, kept: Mapping[str, list[int]]) -> None:
        """Go on from what was remembered."""
        self._counted = {
            name: (counted[0], counted[1])
            for name, counted in kept.items()
            if name in self._feeds
        }


def _doubt(loads: Loads, shares: Mapping[str, float]) -> float:
    """Return the limit of error of the ratio of areas [1]."""
    return sum(loads.area_in(tank)[1] for tank in shares)
