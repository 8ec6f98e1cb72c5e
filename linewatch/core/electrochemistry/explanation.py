"""Why a figure is what it is: formula, inputs, constants and doubts, as one frozen record.

Whoever works a figure out builds the record from the same numbers; the screen and the
command line only print it. A record is enough to work the figure out again by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.faraday import (
    FARADAY_AH_PER_MOL,
    FARADAY_SOURCE,
    equivalent_g_per_ah,
)
from linewatch.core.electrochemistry.uncertainty import Budget

if TYPE_CHECKING:
    from linewatch.core.electrochemistry.metals import Deposit

FARADAY_LAW = "M. Faraday, Phil. Trans. R. Soc. 124 (1834) 77-122, art. 783 ff."


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenInput:
    """One number that went into a figure."""

    name: str
    """In words: 'cathodic charge'."""
    symbol: str
    """As it stands in the formula: 'Q'."""
    value: float
    unit: str
    """A name that core/units.py knows; empty for a ratio."""
    source: str
    """Where it comes from: a tag, the configuration, 'typed in'."""
    quality: int | None = None
    """Quality of the reading; None for what was not measured."""
    utc_ns: int | None = None
    """When it was read [ns since the Unix epoch]; None for what has no time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One number that is the same in every plant."""

    name: str
    symbol: str
    value: float
    unit: str
    """In words that a person reads: 'g/mol'. No screen converts a constant."""
    source: str
    """Publication, with its year."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One figure, and everything that it was worked out from."""

    figure: str
    """In words: 'deposited mass'."""
    value: float
    unit: str
    """A name that core/units.py knows; empty for a ratio."""
    formula: str
    """As a person writes it: 'm = k η Q'."""
    inputs: tuple[GivenInput, ...]
    constants: tuple[Constant, ...] = ()
    budget: Budget | None = None
    """How sure it is; None where nobody can say."""
    source: str = ""
    """Where the formula comes from."""
    notes: tuple[str, ...] = ()
    """What a person must know before trusting the figure, one sentence each."""
    most: float | None = None
    """Where the figure is a range, its upper end; `value` is the lower one."""

    @property
    def plus_or_minus(self) -> float | None:
        """Return the expanded uncertainty (k = 2) in the figure's unit; None if not known."""
        return None if self.budget is None else abs(self.value) * self.budget.expanded_ratio


def constants_of(deposit: Deposit, *, with_density: bool = False) -> tuple[Constant, ...]:
    """Return the constants behind a deposit's equivalent, and behind its density.

    Args:
        deposit: The metal or alloy.
        with_density: Whether the figure takes the density too.

    Returns:
        The Faraday constant; molar mass, valence and share of each metal; densities.
    """
    found = [
        Constant(
            name="Faraday constant",
            symbol="F",
            value=FARADAY_AH_PER_MOL,
            unit="A·h/mol",
            source=FARADAY_SOURCE,
        )
    ]
    for metal, fraction in deposit.parts:
        found += [
            Constant(
                name=f"molar mass of {metal.symbol}",
                symbol=f"M({metal.symbol})",
                value=metal.molar_mass_g_per_mol,
                unit="g/mol",
                source=metal.mass_source,
            ),
            Constant(
                name=f"electrons an atom of {metal.name}",
                symbol=f"n({metal.symbol})",
                value=float(metal.electrons),
                unit="",
                source="valence in the bath",
            ),
            Constant(
                name=f"equivalent of {metal.name}",
                symbol=f"k({metal.symbol})",
                value=equivalent_g_per_ah(metal),
                unit="g/A·h",
                source="k = M / (n F)",
            ),
        ]
        if len(deposit.parts) > 1:
            found.append(
                Constant(
                    name=f"mass fraction of {metal.symbol}",
                    symbol=f"w({metal.symbol})",
                    value=fraction,
                    unit="",
                    source="the bath's deposit",
                )
            )
        if with_density:
            found.append(
                Constant(
                    name=f"density of {metal.symbol}",
                    symbol=f"ρ({metal.symbol})",
                    value=metal.density_g_per_cm3,
                    unit="g/cm³",
                    source=metal.density_source,
                )
            )
    if len(deposit.parts) > 1:
        found += _of_the_alloy(deposit, with_density=with_density)
    return tuple(found)


def _of_the_alloy(deposit: Deposit, *, with_density: bool) -> list[Constant]:
    found = [
        Constant(
            name=f"equivalent of {deposit.name}",
            symbol="k",
            value=deposit.equivalent_g_per_ah,
            unit="g/A·h",
            source="k = 1 / Σ (w / k): charges of the parts add up",
        )
    ]
    if with_density:
        found.append(
            Constant(
                name=f"density of {deposit.name}",
                symbol="ρ",
                value=deposit.density_g_per_cm3,
                unit="g/cm³",
                source="ρ = 1 / Σ (w / ρ): volumes add up (common practice)",
            )
        )
    return found


def explain_charge(
    charge: GivenInput, *, budget: Budget | None = None, notes: tuple[str, ...] = ()
) -> Explanation:
    """Return why a charge is what it is.

    Args:
        charge: The charge as it was counted, with where it comes from.
        budget: How sure it is.
        notes: 'metered 3.2 h, recovered 0.1 h, unmetered 0.0 h', for example.

    Returns:
        The explanation.
    """
    return Explanation(
        figure=charge.name,
        value=charge.value,
        unit=charge.unit,
        formula="Q = Σ (I₁ + I₂) / 2 · Δt",
        inputs=(charge,),
        budget=budget,
        source="trapezoids between consecutive good samples",
        notes=notes,
    )


def explain_mass(
    mass_g: float,
    deposit: Deposit,
    *,
    inputs: tuple[GivenInput, ...],
    budget: Budget | None = None,
) -> Explanation:
    """Return why a deposited mass is what it is.

    Args:
        mass_g: The mass [g].
        deposit: What was laid down.
        inputs: Charge (or current and time) and efficiency.
        budget: How sure the mass is.

    Returns:
        The explanation.
    """
    return Explanation(
        figure=f"deposited {deposit.name}",
        value=mass_g,
        unit="g",
        formula="m = k η Q",
        inputs=inputs,
        constants=constants_of(deposit),
        budget=budget,
        source=FARADAY_LAW,
    )


def explain_thickness(
    mean_um: float,
    deposit: Deposit,
    *,
    inputs: tuple[GivenInput, ...],
    budget: Budget | None = None,
) -> Explanation:
    """Return why a mean thickness is what it is.

    Args:
        mean_um: The thickness [µm].
        deposit: What was laid down.
        inputs: Charge, efficiency and area.
        budget: How sure the thickness is.

    Returns:
        The explanation.
    """
    return Explanation(
        figure="mean thickness",
        value=mean_um,
        unit="um",
        formula="δ = 100 k η Q / (ρ A)",
        inputs=inputs,
        constants=constants_of(deposit, with_density=True),
        budget=budget,
        source=FARADAY_LAW,
        notes=("The mean over the area; where it is thinnest no signal of the line tells.",),
    )


def explain_rate(
    rate_um_per_h: float,
    deposit: Deposit,
    *,
    inputs: tuple[GivenInput, ...],
    budget: Budget | None = None,
) -> Explanation:
    """Return why a deposition rate is what it is.

    Args:
        rate_um_per_h: The rate [µm/h].
        deposit: What is being laid down.
        inputs: Current, efficiency and area, or current density and efficiency.
        budget: How sure the rate is.

    Returns:
        The explanation.
    """
    return Explanation(
        figure="deposition rate",
        value=rate_um_per_h,
        unit="um/h",
        formula="dδ/dt = 100 k η I / (ρ A)",
        inputs=inputs,
        constants=constants_of(deposit, with_density=True),
        budget=budget,
        source=FARADAY_LAW,
    )


def explain_time_to_target(time_s: float, *, inputs: tuple[GivenInput, ...]) -> Explanation:
    """Return why a time to target is what it is.

    Args:
        time_s: The time [s].
        inputs: Target and present thickness, and the present rate.

    Returns:
        The explanation.
    """
    return Explanation(
        figure="time to target",
        value=time_s,
        unit="s",
        formula="t = (δ_target - δ) / (dδ/dt)",
        inputs=inputs,
        source="the present rate, held",
        notes=("It holds as long as the current stays as it is.",),
    )


def explain_current_density(
    density_a_per_dm2: float,
    *,
    inputs: tuple[GivenInput, ...],
    budget: Budget | None = None,
) -> Explanation:
    """Return why a current density is what it is.

    Args:
        density_a_per_dm2: The mean current density [A/dm2].
        inputs: Current and area.
        budget: How sure the density is.

    Returns:
        The explanation.
    """
    return Explanation(
        figure="current density",
        value=density_a_per_dm2,
        unit="A/dm2",
        formula="j = I / A",
        inputs=inputs,
        budget=budget,
        source="definition",
        notes=("The mean over the area; edges carry more, recesses less.",),
    )


def explain_dose(dose_ml: float, *, inputs: tuple[GivenInput, ...]) -> Explanation:
    """Return why an additive's dose is what it is.

    Args:
        dose_ml: The dose [mL].
        inputs: Rate and charge, and what was dosed already.

    Returns:
        The explanation.
    """
    return Explanation(
        figure="additive owed",
        value=dose_ml,
        unit="mL",
        formula="V = r Q / 1000 - V_dosed",
        inputs=inputs,
        source="the supplier's rate by charge (common practice)",
    )
