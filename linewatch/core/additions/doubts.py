"""What speaks against a dose: said before it is logged, and answered with a reason.

Rule 1: the ledger writes down what was done. So nothing here forbids a dose for good: what
        is odd needs a reason, and the reason stands in the record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

NS = 1_000_000_000
SOON_NS = 3600 * NS
"""A second dose within this time may be the first one, made again: common practice."""
USUAL_DOSES = 10
FAR_FROM_USUAL = 8.0
"""A dose so many times larger or smaller than the usual is a doubt about its unit. A US gallon
is 3.8 L, an hour 60 minutes, a litre 1000 mL: common practice."""
LITTLE_ML = 0.5
"""Debts of less than half a millilitre are none: nobody can measure them."""
HEADROOM_RATIO = 0.10
"""What a dose may exceed the debt by: what a pump or a jug can measure. Common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """A dose that went in, as doubts must know it."""

    utc_ns: int
    amount_ml: float
    who: str
    lot: str = ""
    is_beyond: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How an additive stands before a dose."""

    owed_ml: float
    """At most, if it is a range."""
    least_ml: float = 0.0
    largest_ml: float | None = None
    last_hour_ml: float = 0.0
    """What went in within the last hour."""
    doses: Sequence[Dose] = ()
    """The last ones that count, oldest first."""
    concerns: Sequence[str] = ()
    """What is wrong with the bath: 'temperature low'."""
    lot_of: str = ""
    """Another additive that the lot was logged as before."""


def doubts(amount_ml: float, standing: Standing, now_utc_ns: int) -> list[str]:
    """Return what speaks against a dose, each in a sentence for people.

    Args:
        amount_ml: The dose [mL], above 0.
        standing: How the additive stands.
        now_utc_ns: Wall time [ns].

    Returns:
        Sentences; empty if nothing speaks against it.
    """
    found = [
        *_about_debt(amount_ml, standing),
        *_about_size(amount_ml, standing),
        *_about_time(standing, now_utc_ns),
    ]
    if standing.lot_of:
        found.append(f"that lot was logged before as {standing.lot_of}: is it the right drum?")
    if standing.concerns:
        found.append(
            f"the bath is not fit for a dose ({', '.join(standing.concerns)}):"
            " what is owed stays owed"
        )
    return found


def _about_debt(amount_ml: float, standing: Standing) -> list[str]:
    owed_ml = standing.owed_ml
    if amount_ml <= max(owed_ml * (1.0 + HEADROOM_RATIO), standing.least_ml) and owed_ml > 0.0:
        return []
    said = f"only {owed_ml:.0f} mL is owed" if owed_ml >= LITTLE_ML else "nothing is owed now"
    found = [said]
    before = standing.doses[-1:]
    if before and before[0].is_beyond:
        found.append(
            "the last dose was beyond what was owed too: twice the same way means that the"
            " rate is wrong; change the rate in the configuration"
        )
    return found


def _about_size(amount_ml: float, standing: Standing) -> list[str]:
    found = []
    usual = [each.amount_ml for each in standing.doses[-USUAL_DOSES:]]
    if usual:
        middle = median(usual)
        ratio = amount_ml / middle if middle > 0.0 else 1.0
        if not 1.0 / FAR_FROM_USUAL < ratio < FAR_FROM_USUAL:
            found.append(f"a usual dose is {middle:.0f} mL: look at the unit")
    largest = standing.largest_ml
    if largest is not None and amount_ml > largest:
        found.append(f"the largest dose is {largest:.0f} mL")
    elif largest is not None and amount_ml + standing.last_hour_ml > largest:
        found.append(
            f"{standing.last_hour_ml:.0f} mL went in within the hour, and {largest:.0f} mL is"
            " the most: spread it"
        )
    return found


def _about_time(standing: Standing, now_utc_ns: int) -> list[str]:
    if not standing.doses:
        return []
    last = standing.doses[-1]
    if not 0 <= now_utc_ns - last.utc_ns < SOON_NS:
        return []
    minutes = (now_utc_ns - last.utc_ns) // (60 * NS)
    return [
        f"{last.who} logged {last.amount_ml:.0f} mL {minutes} min ago: is this a second dose?"
    ]


def next_dose_ml(
    owed_ml: float, *, least_ml: float, largest_ml: float | None, last_hour_ml: float
) -> float:
    """Return what to dose now [mL]: the debt, spread so that no hour gets too much.

    Args:
        owed_ml: What is owed [mL].
        least_ml: Least dose that can be measured [mL].
        largest_ml: Most at once and within an hour [mL]; None: no limit.
        last_hour_ml: What went in within the last hour [mL].

    Returns:
        The dose [mL]; 0 while the debt is less than the least dose, or the hour is full.
    """
    dose_ml = owed_ml
    if largest_ml is not None:
        dose_ml = min(dose_ml, largest_ml - last_hour_ml)
    return dose_ml if dose_ml > 0.0 and dose_ml >= least_ml else 0.0
