"""Water treatment: cyanide and chromium streams, neutralising, settling, press and basin.

Streams, strengths and volumes are invented; how each stage behaves follows common practice.
Concentrations are in mol/L, doses in mol of reagent.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from linewatch_sim.utilities.chemistry import Lag, end_point, excess_base_mol_per_l, ph_of

if TYPE_CHECKING:
    from linewatch_sim.utilities.wrong import At

STAGES: tuple[str, ...] = (
    "cyanide-oxidation",
    "chromium-reduction",
    "neutralise",
    "discharge",
)
"""Where pH is measured."""
Flows = tuple[float, float, float]
"""Cyanide, chromium and general stream [L/min]."""
USUAL_L_PER_MIN: Flows = (14.0, 11.0, 55.0)
LEAST_SIZE = 0.1
"""A stage is at least so large against the usual one, though no line feeds it."""
REAGENTS = ("caustic", "acid", "hypochlorite", "reducer", "coagulant", "polymer")
TANK_MM, TANK_L = 1000.0, 400.0
"""A full reagent tank: its height and what it holds."""
REFILL_MM = 250.0
"""Somebody refills a reagent tank that has come down to here."""
_STRENGTH = {"caustic": 6.0, "acid": 4.0, "hypochlorite": 1.6, "reducer": 1.5}
"""Reagents [mol/L]: sodium hydroxide, sulfuric acid by its charge, the rest by electrons."""
_METERED = {"coagulant": 0.09, "polymer": 2.0}
"""Reagents that are fed by flow alone [L for each cubic metre]."""
FAR_TOO_MUCH = 5e-4
"""Reducer beyond the end point from which on the potential falls further [mol/L]."""
EXCESS_MV = 60.0
REDUCES_BELOW_PH = 3.0
"""Above it chromium is reduced in hours instead of minutes."""
ACID_ABOVE_PH = 1.0
"""So far above its set-point neutralising doses acid."""
PRESS_FULL_L = 2400.0
PROBE_S, REDOX_PROBE_S = 8.0, 12.0
"""Time constants of clean probes in moving water."""
MIXING_S = 25.0
"""A dose is felt so much later."""


class Stage:
    """One stirred tank with a pH loop; where wanted, a redox loop too."""

    def __init__(self, name: str, *, volume_l: float, set_ph: float, band_ph: float) -> None:
        self.name = name
        self.volume_l = volume_l
        self.set_ph = set_ph
        self.band_ph = band_ph
        self.base = excess_base_mol_per_l(set_ph)
        self._felt = Lag(0.0)
        self._doses = False
        self._probe = Lag(set_ph)
        self.ph = set_ph
        """True pH."""

    def step(self, dt_s: float, flow_l_per_s: float, base_in: float, dose_mol_s: float) -> None:
        """Mix what comes in and what is dosed; `dose_mol_s` is base, or acid if negative."""
        felt = self._felt.follow(dose_mol_s, dt_s, MIXING_S)
        self.base += (flow_l_per_s * (base_in - self.base) + felt) * dt_s / self.volume_l
        self.ph = ph_of(self.base)

    def shown_ph(self, dt_s: float, wrong: At) -> float:
        """Return what the stage's probe shows."""
        shown = self._probe.follow(self.ph, dt_s, PROBE_S * wrong(self.name).coated)
        return 7.0 if wrong(self.name).wet_glass else shown

    def opening(self, shown_ph: float, *, upwards: bool) -> float:
        """Return 1 while the dosing pump runs: it starts beyond the band and stops inside.

        What is already on its way then goes on: the trace is a saw-tooth, and a lazy probe
        makes its teeth long.
        """
        missing = self.set_ph - shown_ph if upwards else shown_ph - self.set_ph
        if missing > self.band_ph:
            self._doses = True
        elif missing < 0.0:
            self._doses = False
        return float(self._doses)


class Redox:
    """What is to be destroyed in a stage, and the reagent that does it."""

    def __init__(self, *, reagent: str, volume_l: float, strongest_mol_s: float) -> None:
        self.reagent = reagent
        self.volume_l = volume_l
        self.strongest_mol_s = strongest_mol_s
        self.target = 1e-5
        """What is left of it [mol/L]."""
        self.excess = 2e-4
        """Reagent left over [mol/L]."""
        self._probe: Lag | None = None

    def step(
        self, dt_s: float, flow_l_per_s: float, target_in: float, dose_mol_s: float
    ) -> None:
        """Mix, dose, and let both use each other up."""
        share = flow_l_per_s * dt_s / self.volume_l
        self.target += share * (target_in - self.target)
        self.excess += dose_mol_s * dt_s / self.volume_l - share * self.excess
        used = min(self.target, self.excess) * (1.0 - math.exp(-dt_s / 40.0))
        self.target -= used
        self.excess -= used

    def shown_mv(self, dt_s: float, potential_mv: float, slower: float) -> float:
        """Return what the redox probe shows while the water has this potential."""
        if self._probe is None:
            self._probe = Lag(potential_mv)
        return self._probe.follow(potential_mv, dt_s, REDOX_PROBE_S * slower)


class Treatment:
    """The whole train. `told` holds what its instruments see, by name."""

    def __init__(self, wrong: At, usual_l_per_min: Flows = USUAL_L_PER_MIN) -> None:
        self._wrong = wrong
        # Built for the flows of its lines: tanks and pumps grow with them.
        self._size = tuple(
            max(flow / usual, LEAST_SIZE)
            for flow, usual in zip(usual_l_per_min, USUAL_L_PER_MIN, strict=True)
        )
        self._whole_l_per_min = sum(usual_l_per_min)
        self._whole_size = self._whole_l_per_min / sum(USUAL_L_PER_MIN)
        cyanide, chromium, _ = self._size
        self.told: dict[str, float] = {}
        self.level_mm = {name: 500.0 + 60.0 * k for k, name in enumerate(REAGENTS)}
        """Height in each reagent's tank."""
        self.cyanide = Stage(
            "cyanide-oxidation", volume_l=1200.0 * cyanide, set_ph=10.8, band_ph=0.08
        )
        self.chromium = Stage(
            "chromium-reduction", volume_l=900.0 * chromium, set_ph=2.3, band_ph=0.06
        )
        self.neutral = Stage(
            "neutralise", volume_l=2500.0 * self._whole_size, set_ph=9.0, band_ph=0.1
        )
        self._cyanide_redox = Redox(
            reagent="hypochlorite",
            volume_l=1200.0 * cyanide,
            strongest_mol_s=0.012 * cyanide,
        )
        self._chromium_redox = Redox(
            reagent="reducer", volume_l=900.0 * chromium, strongest_mol_s=0.01 * chromium
        )
        self._floc = Lag(1.0)
        self._dissolved = Lag(0.4)
        self._turbidity = Lag(5.0)
        self._basin_ph = Lag(8.9)
        self._basin_probe = Lag(8.9)
        self._press_l = 900.0
        self._sludge_mm = 600.0
        self._time_s = 0.0
        self.step(1.0, usual_l_per_min)

    def step(self, dt_s: float, flows_l_per_min: Flows) -> None:
        """Go on by a step.

        Args:
            dt_s: Length of the step.
            flows_l_per_min: Cyanide, chromium and general stream.
        """
        surge = self._wrong("neutralise").surge
        cyanide, chromium, general = (flow * surge / 60.0 for flow in flows_l_per_min)
        self._oxidise(dt_s, cyanide)
        self._reduce(dt_s, chromium)
        self._neutralise(dt_s, cyanide, chromium, general)
        whole = cyanide + chromium + general
        self._settle(dt_s, whole)
        self._press(dt_s)
        self._let_go(dt_s, whole)
        for name, level in self.level_mm.items():
            self.told[f"reagent-{name}.level"] = 0.0 if self._is_empty(name) else level

    def _dose(self, reagent: str, opening: float, strongest_mol_s: float, dt_s: float) -> float:
        """Take a reagent from its tank; return how much arrives [mol/s]."""
        if self._is_empty(reagent):
            return 0.0
        dose = opening * strongest_mol_s
        self._take(reagent, dose * dt_s / _STRENGTH[reagent])
        return dose

    def _is_empty(self, reagent: str) -> bool:
        """Tell whether a reagent no longer arrives, though its pump runs."""
        return self._wrong(f"reagent-{reagent}").empty > 0.0

    def _take(self, reagent: str, litres: float) -> None:
        level = self.level_mm[reagent] - litres * TANK_MM / TANK_L
        self.level_mm[reagent] = 900.0 if level < REFILL_MM else level

    def _oxidise(self, dt_s: float, flow: float) -> None:
        stage, redox, wrong = self.cyanide, self._cyanide_redox, self._wrong
        ph = stage.shown_ph(dt_s, wrong)
        caustic = self._dose(
            "caustic", stage.opening(ph, upwards=True), 0.0012 * self._size[0], dt_s
        )
        stage.step(dt_s, flow, 2.2e-3, caustic)
        # The step from the cyanide's to the hypochlorite's potential, at the stage's own pH.
        potential = end_point(-300.0, 420.0, redox.excess - redox.target, 6e-5)
        potential -= 45.0 * (stage.ph - 10.8)
        shown = redox.shown_mv(dt_s, potential, wrong(stage.name).coated)
        opening = min(max((330.0 - shown) / 300.0, 0.0), 1.0)
        dose = self._dose("hypochlorite", opening, redox.strongest_mol_s, dt_s)
        redox.step(dt_s, flow, 2.5e-3, dose)
        self.told["cyanide-oxidation.ph"] = ph
        self.told["cyanide-oxidation.orp"] = shown
        self.told["cyanide-oxidation.flow"] = flow * 60.0

    def _reduce(self, dt_s: float, flow: float) -> None:
        stage, redox, wrong = self.chromium, self._chromium_redox, self._wrong
        ph = stage.shown_ph(dt_s, wrong)
        acid = self._dose("acid", stage.opening(ph, upwards=False), 0.004 * self._size[1], dt_s)
        stage.step(dt_s, flow, -1.0e-3, -acid)
        # More reducer, lower potential; and chromium's own couple moves with the pH.
        potential = end_point(620.0, 240.0, redox.excess - redox.target, 6e-5)
        potential -= 100.0 * (stage.ph - 2.3)
        # A great excess draws it down further, a decade at a time.
        far = max(0.0, redox.excess - redox.target - FAR_TOO_MUCH) / FAR_TOO_MUCH
        potential -= EXCESS_MV * math.log10(1.0 + far)
        shown = redox.shown_mv(dt_s, potential, wrong(stage.name).coated)
        opening = min(max((shown - 270.0) / 200.0, 0.0), 1.0)
        opening = max(opening, wrong(stage.name).runs_on)
        slow = 1.0 if stage.ph < REDUCES_BELOW_PH else 0.1
        dose = self._dose("reducer", opening, redox.strongest_mol_s, dt_s)
        redox.step(dt_s * slow, flow, 2.2e-3 * wrong(stage.name).strength, dose)
        self.told["chromium-reduction.ph"] = ph
        self.told["chromium-reduction.orp"] = shown
        self.told["chromium-reduction.flow"] = flow * 60.0

    def _neutralise(self, dt_s: float, cyanide: float, chromium: float, general: float) -> None:
        stage, wrong = self.neutral, self._wrong
        ph = stage.shown_ph(dt_s, wrong)
        whole = max(cyanide + chromium + general, 1e-6)
        arrives = cyanide * self.cyanide.base + chromium * self.chromium.base
        arrives += general * (-1.2e-3 * self._come_and_go(dt_s) - wrong(stage.name).slug)
        up = self._dose(
            "caustic", stage.opening(ph, upwards=True), 0.009 * self._whole_size, dt_s
        )
        # Acid comes in only well above the set-point, so that the two do not fight.
        high = min(max(ph - stage.set_ph - ACID_ABOVE_PH, 0.0), 1.0)
        down = self._dose("acid", high, 0.01 * self._whole_size, dt_s)
        stage.step(dt_s, whole, arrives / whole, up - down)
        for reagent, litres in _METERED.items():
            if not self._is_empty(reagent):
                self._take(reagent, litres * whole * dt_s / 1000.0)
        # Metals are least soluble a little above pH 9 and dissolve again on both sides.
        left = 0.3 + 0.4 * (10.0 ** min(abs(stage.ph - 9.2), 2.0) - 1.0)
        self._dissolved.follow(left, dt_s, 600.0)
        self.told["neutralise.ph"] = ph
        self.told["neutralise.flow"] = whole * 60.0

    def _come_and_go(self, dt_s: float) -> float:
        """Return how strong the general stream is against its mean: loads come and go."""
        self._time_s += dt_s
        slow, quick = math.sin(self._time_s / 71.0), math.sin(self._time_s / 27.3 + 1.0)
        return 1.0 + 0.22 * slow + 0.13 * quick

    def _settle(self, dt_s: float, whole: float) -> None:
        quality = 0.25 if self._is_empty("polymer") else 1.0
        quality *= 0.5 if self._is_empty("coagulant") else 1.0
        floc = self._floc.follow(quality, dt_s, 400.0)
        surge = max(whole * 60.0 / self._whole_l_per_min - 1.1, 0.0)
        cloudy = 4.0 + 45.0 * (1.0 - floc) + 60.0 * surge + 2.5 * self._dissolved.value
        cloudy += 25.0 * self._wrong("filter-press").torn
        self.told["settler.turbidity"] = self._turbidity.follow(cloudy, dt_s, 900.0)
        self._sludge_mm += dt_s * (0.012 * whole - 0.018 * self._press_flow())
        self._sludge_mm = min(max(self._sludge_mm, 150.0), 1800.0)
        self.told["settler.level"] = self._sludge_mm
        polymer = 0.0 if self._is_empty("polymer") else _METERED["polymer"]
        self.told["flocculate.flow"] = polymer * whole * 0.06

    def _press_flow(self) -> float:
        """Return the press's feed [L/s]: it falls with the root of what it has taken."""
        if self._wrong("filter-press").loaded:
            return 0.02
        return 1.1 / math.sqrt(1.0 + self._press_l / 150.0)

    def _press(self, dt_s: float) -> None:
        self._press_l += self._press_flow() * dt_s
        if self._press_l > PRESS_FULL_L:
            # Opened, emptied and closed again.
            self._press_l = 0.0
        share = min(self._press_l / 2200.0, 1.0)
        # The pump's air pressure is raised in four steps as the cake grows.
        steps_bar = (2.0, 3.5, 5.2, 6.3)
        stage = min(int(share * 4.0), 3)
        within = min(share * 4.0 - stage + 0.25, 1.0)
        built = steps_bar[stage] * (0.35 + 0.65 * math.sqrt(within))
        self.told["filter-press.pressure"] = (
            6.8 if self._wrong("filter-press").loaded else built
        )
        self.told["filter-press.flow"] = self._press_flow() * 60.0

    def _let_go(self, dt_s: float, whole: float) -> None:
        coated = self._wrong("discharge").coated
        ph = self._basin_ph.follow(self.neutral.ph, dt_s, 1500.0)
        shown = self._basin_probe.follow(ph, dt_s, PROBE_S * coated)
        self.told["discharge.ph"] = 7.0 if self._wrong("discharge").wet_glass else shown
        self.told["discharge.flow"] = whole * 60.0
        self.told["discharge.turbidity"] = 0.8 * self.told["settler.turbidity"]
        # A weir: the level follows the flow over it with the power of two thirds.
        self.told["discharge.level"] = 850.0 + 30.0 * max(whole, 0.0) ** (2.0 / 3.0)
