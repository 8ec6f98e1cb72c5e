"""Metal in a bath: predicted from the last analysis by what went in and out since.

d(c V) = dissolved from the anodes - laid down - dragged out with the parts + salts added.
Anodes that were hung are no metal in the bath: only what the charge dissolves is.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(slots=True, kw_only=True)
class MetalAccount:
    """The metal of one bath since its last analysis."""

    measured_g_per_l: float
    """What the analysis found."""
    volume_l: float
    """The bath at its usual level."""
    utc_ns: int | None = None
    """When; None: as the configuration says."""
    level_mm: float | None = None
    """Level when it was sampled, where a signal tells."""
    dissolved_g: float = 0.0
    laid_g: float = 0.0
    dragged_g: float = 0.0
    salts_g: float = 0.0
    unexplained_g_per_l: float | None = None
    """What the analysis found less what the one before it predicted; None: there was none."""

    @property
    def gain_g(self) -> float:
        """Return the change of metal in the bath since the analysis [g]."""
        return self.dissolved_g - self.laid_g - self.dragged_g + self.salts_g

    def predicted_g_per_l(self, volume_l: float | None = None) -> float:
        """Return the concentration predicted now [g/L], never below 0.

        Args:
            volume_l: Solution that is there now [L]; None: the usual level.
        """
        mass_g = self.measured_g_per_l * self.volume_l + self.gain_g
        return max(0.0, mass_g / (volume_l or self.volume_l))

    def carry_out(self, volume_l: float, solution_l: float | None = None) -> None:
        """Let parts carry solution out, at the concentration of this moment."""
        self.dragged_g += volume_l * self.predicted_g_per_l(solution_l)

    def analysed(
        self,
        found_g_per_l: float,
        utc_ns: int,
        level_mm: float | None,
        solution_l: float | None,
    ) -> MetalAccount:
        """Return the account that begins with an analysis.

        Args:
            found_g_per_l: What it found [g/L].
            utc_ns: When the sample was taken.
            level_mm: Level at that time [mm], where a signal tells.
            solution_l: Solution that was there [L], where the level tells it.
        """
        return MetalAccount(
            # Brought to the usual level: with water missing every concentration is high.
            measured_g_per_l=found_g_per_l * (solution_l or self.volume_l) / self.volume_l,
            volume_l=self.volume_l,
            utc_ns=utc_ns,
            level_mm=level_mm,
            # A number of the configuration, of no known time, predicts nothing.
            unexplained_g_per_l=None
            if self.utc_ns is None
            else found_g_per_l - self.predicted_g_per_l(solution_l),
        )

    def state(self) -> dict[str, Any]:
        """Return all that the future depends on, as JSON knows it; see `metal_account_from`."""
        return asdict(self)


def metal_account_from(kept: Mapping[str, Any]) -> MetalAccount:
    """Return an account of metal from what `MetalAccount.state` told."""
    return MetalAccount(**kept)
