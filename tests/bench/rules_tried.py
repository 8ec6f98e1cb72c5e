"""Which trouble of the works each rule is tried with, and within what time.

Times are those within which the signals can tell it, by common practice; a rule that looks
once a load or once in a span needs that long at least.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Tried:
    """One rule with its trouble."""

    alarm: str
    trouble: str
    within_s: float
    learns_s: float = 1800.0
    """How long the works runs well before."""
    ends_after_s: float | None = None
    """When the trouble is mended; None: not."""
    step_s: float = 10.0
    """How often the instruments are read once it has begun."""
    learn_step_s: float = 10.0
    """How often before."""
    behind: str = ""
    """The alarm that people hear of first, behind which the rule's own is put aside."""


MIN = 60.0
HOUR = 3600.0


SECONDS = {"step_s": 1.0, "learn_step_s": 1.0, "learns_s": 3 * HOUR}
"""A swing within a turn shows only to who reads each second."""
EIGHT_HOURS = {"learns_s": 8 * HOUR}


def _t(alarm: str, trouble: str, within_s: float, behind: str = "", **more: float) -> Tried:
    return Tried(alarm=alarm, trouble=trouble, within_s=within_s, behind=behind, **more)


TRIED = (
    _t("nickel-2.heat-lost", "heater-fails", HOUR),
    _t("copper-strike.heat-stuck", "heater-sticks-on", HOUR),
    _t("zinc-2.warms-itself", "cooling-lost", 4 * HOUR),
    _t("electroclean.probe-out", "probe-pulled-out", 3 * MIN),
    _t("chromium.heater-uncovered", "tank-leaks", 30 * MIN),
    _t("bake-oven.soak-broken", "oven-low", HOUR, learns_s=2 * HOUR),
    _t("chromium.level-runs-out", "tank-leaks", 20 * MIN),
    _t("copper-strike.level-runs-over", "top-up-sticks-open", 30 * MIN),
    _t("barrel-nickel.leaks-slowly", "tank-weeps", 6 * HOUR, learns_s=16 * HOUR),
    _t("nickel-4.level-still", "level-probe-sticks", HOUR),
    _t("rinse-6.rinse-stands", "rinse-water-off", HOUR),
    _t("rinse-5.rinse-probe-still", "rinse-probe-dry", HOUR),
    _t("rinse-4.rinse-steps", "drip-short", 2 * HOUR, learns_s=2 * HOUR),
    _t("rinse-3.wrong-liquid", "wrong-liquid", 2 * MIN, "rinse-3.cyanide-jumps"),
    _t("acid-copper-2.filter-restarted", "pump-runs-dry", 2.2 * HOUR, ends_after_s=2.1 * HOUR),
    _t("nickel-2.sparger-plugs", "sparger-plugs", HOUR, learns_s=2 * HOUR),
    _t("rectifier-copper-2.short", "short", 10 * MIN),
    _t("rectifier-zinc-3.polarity", "polarity-wrong", HOUR),
    _t("rectifier-electroclean.polarity-told", "reversing-switch-wrong", 15 * MIN),
    _t("rectifier-strike.at-voltage-limit", "voltage-limit", 15 * MIN),
    _t("rectifier-chromium.open-circuit", "bar-not-seated", 10 * MIN),
    _t("rectifier-nickel-4.current-stopped", "rectifier-trips", 10 * MIN),
    _t("rectifier-nickel-1.set-high", "set-point-left", 15 * MIN, learns_s=1.5 * HOUR),
    _t("rectifier-electroclean.set-low", "electroclean-weak", 15 * MIN, learns_s=1.5 * HOUR),
    _t("rectifier-zinc-1.barrel-overloaded", "barrel-overloaded", 2 * HOUR, learns_s=9 * HOUR),
    _t("rectifier-strike.volts-high", "anodes-polarise", 20 * MIN, learns_s=HOUR),
    _t("rectifier-zinc-3.barrel-contact", "dangler-worn", 1.5 * HOUR),
    _t("rectifier-nickel-3.ripple-fault", "device-lost", 5 * MIN, learns_s=HOUR),
    _t("rectifier-nickel-2.cell-rises", "bus-joint-loose", 2 * HOUR, learns_s=4 * HOUR),
    _t("rectifier-nickel-2.cell-steps", "bus-joint-loose", HOUR, learns_s=4 * HOUR + 240.0),
    _t("rectifier-copper-1.runs-hot", "fan-blocked", 4 * HOUR, learns_s=6 * HOUR),
    _t("rectifier-copper-2.efficiency-drifts", "losses-grow", 2 * HOUR, learns_s=3 * HOUR),
    _t("rectifier-chromium.efficiency-drifts", "shunt-reads-high", 2 * HOUR, learns_s=3 * HOUR),
    _t("rectifier-barrel-nickel.shares-badly", "module-lost", HOUR, learns_s=2 * HOUR),
    _t("rectifier-zinc-1.contact-wears", "dangler-wears", 4 * HOUR, **(SECONDS | EIGHT_HOURS)),
    _t("rectifier-barrel-electroclean.rhythm-lost", "barrel-stands-unseen", HOUR, **SECONDS),
    _t("soak-clean-1.bath-cycles", "mixing-lost", 3 * HOUR),
    _t("barrel-nickel.loads-chill", "cold-castings", 2 * HOUR),
    _t("bake-oven.core-lags", "core-stays-cold", 12 * HOUR),
    _t("rinse-3.rinse-idles", "hoist-stops", 2 * HOUR),
    _t("rectifier-copper-3.light-load", "turned-down", HOUR),
    _t("rectifier-zinc-2.barrel-underloaded", "barrel-half-empty", 2 * HOUR, learns_s=9 * HOUR),
    _t("rectifier-nickel-1.unit-still", "unit-repeats", HOUR, learns_s=2070.0),
    _t("rinse-2.hangs", "hoist-stops", 15 * MIN, "works.stands-rack", learns_s=2 * HOUR),
    _t("acid-copper-1.odd-move", "dip-left-out", HOUR, learns_s=3 * HOUR),
    _t("nickel-1.left-too-soon", "line-hurries", HOUR),
    _t("chromium-reduction.reducer-overfed", "reducer-runs-on", HOUR),
    _t("extract-chromium.pad-torn", "pad-torn", HOUR),
    _t("works.mains-dip", "mains-dips", MIN, step_s=1.0),
    _t("cyanide-oxidation.cyanide-acid", "acid-in-cyanide", 5 * MIN),
    _t("cyanide-oxidation.oxidation-fails", "hypochlorite-empty", 30 * MIN),
    _t("chromium-reduction.reduction-fails", "reducer-empty", 30 * MIN),
    _t("neutralise.slug", "bath-dumped", 5 * MIN),
    _t("discharge.glass-broken", "ph-glass-broken", 10 * MIN),
    _t("flocculate.dosing-stops", "polymer-out", 10 * MIN),
    _t("extract-chromium.extraction-lost", "fan-stops", MIN),
    _t("extract-chromium.belt-slips", "fan-belt-slips", 30 * MIN),
    _t("extract-line.hoods-starve", "make-up-air-lost", 30 * MIN),
)
