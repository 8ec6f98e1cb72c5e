"""The account of one additive: owed = accrued - dosed, exactly, whatever the order of work.

Rule 1: rates are whole nanolitres, counts are whole numbers of their finest kind, and an
        account adds up their products as integers. No split, merge or restart changes a bit.
Rule 2: an account only goes on. What was dosed is never taken away; a mistake is made good by
        a counter-entry of the same size, and both stay.
Rule 3: what is not certain (unmetered time, charge with no load there) is never dropped: it
        makes `owed` a range.

What is weighed (a salt, anodes) is counted in the same way, a gram for a millilitre.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.integration.charge import FINE_PER_UAS, UAS_PER_AH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import AdditivePlan

NL_PER_ML = 1_000_000
BILLION = 1_000_000_000
COUNTS_PER_AH = UAS_PER_AH * FINE_PER_UAS * BILLION
"""Charge is counted in fine units times billionths of a share: whole, and nothing is cut."""
DAY_NS = 86_400 * BILLION
CM2_PER_M2 = 10_000
UNITS_PER_NL = 3 * 1000 * COUNTS_PER_AH
"""Parts of a nanolitre in which an account adds up: every rate divides them evenly."""
_BY_CHARGE = UNITS_PER_NL // (1000 * COUNTS_PER_AH)
_BY_AREA = UNITS_PER_NL // CM2_PER_M2
_BY_TIME = UNITS_PER_NL // DAY_NS
ENTRIES_KEPT = 60
"""So many entries of an account can be corrected; the record keeps all of them."""


def nanolitres(amount_ml: float) -> int:
    """Return an amount in whole nanolitres, half to even.

    Args:
        amount_ml: Amount [mL]; finite.

    Returns:
        Amount [nL].
    """
    return round(amount_ml * NL_PER_ML)


def millilitres(units: int) -> float:
    """Return a sum of an account in millilitres.

    Args:
        units: Sum in units of the account.

    Returns:
        Amount [mL].
    """
    return units / (UNITS_PER_NL * NL_PER_ML)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What an additive is used up by, in whole nanolitres."""

    charge_nl: int = 0
    """By 1000 A·h of plating."""
    dummy_nl: int = 0
    """By 1000 A·h of dummy plating."""
    area_nl: int = 0
    """By square metre of work that left: what the parts carry out."""
    load_nl: int = 0
    """By load that left."""
    day_nl: int = 0
    """By day, worked or not: what heat and carbon take."""

    def units(self, counts: Counts) -> int:
        """Return what some counts use up for certain [units of the account]."""
        return (
            (self.charge_nl * counts.product + self.dummy_nl * counts.dummy) * _BY_CHARGE
            + self.area_nl * counts.area_cm2 * _BY_AREA
            + self.load_nl * counts.loads * UNITS_PER_NL
            + self.day_nl * counts.time_ns * _BY_TIME
        )

    def doubtful_units(self, counts: Counts) -> int:
        """Return what some counts may have used up besides [units of the account]."""
        return self.charge_nl * (counts.idle + counts.unmetered) * _BY_CHARGE


def rates_of(plan: AdditivePlan) -> Rates:
    """Return an additive's rates in whole nanolitres."""
    return Rates(
        charge_nl=nanolitres(plan.dose_ml_per_kah),
        dummy_nl=nanolitres(plan.dose_ml_per_kah * plan.dummy_ratio),
        area_nl=nanolitres(plan.dose_ml_per_m2),
        load_nl=nanolitres(plan.dose_ml_per_load),
        day_nl=nanolitres(plan.dose_ml_per_day),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What a bath has seen, all of it whole numbers that only add up."""

    product: int = 0
    """Cathodic charge while a load was there, or nothing tells [counts]."""
    dummy: int = 0
    """Cathodic charge of dummy plating [counts]."""
    idle: int = 0
    """Cathodic charge with no load there and no dummy: creep, or a blind signal [counts]."""
    unmetered: int = 0
    """The likely most that flowed while nothing told the current [counts]."""
    loads: int = 0
    area_cm2: int = 0
    time_ns: int = 0

    def __add__(self, other: Counts) -> Counts:
        """Return the sum, place by place."""
        return Counts(**{name: n + getattr(other, name) for name, n in asdict(self).items()})

    def __sub__(self, other: Counts) -> Counts:
        """Return the difference, place by place."""
        return Counts(**{name: n - getattr(other, name) for name, n in asdict(self).items()})


def charge_counts_ah(counts: int) -> float:
    """Return a counted charge [A·h]."""
    return counts / COUNTS_PER_AH


@dataclass(slots=True, kw_only=True)
class Entry:
    """One dose or counter-entry; never changed but for the number of what corrected it."""

    number: int
    utc_ns: int
    amount_nl: int
    who: str
    lot: str = ""
    corrects: int | None = None
    corrected_by: int | None = None
    why: str = ""
    is_beyond: bool = False
    """More than was owed went in."""
    mono_ns: int = 0


@dataclass(slots=True, kw_only=True)
class Account:
    """What one additive of one bath is owed."""

    rates: Rates
    seen: Counts = field(default_factory=Counts)
    """The bath's counts up to which the account has gone on."""
    accrued: int = 0
    """Used up for certain [units]."""
    doubtful: int = 0
    """May have been used up besides [units]."""
    dosed_nl: int = 0
    entries: list[Entry] = field(default_factory=list)
    marks: list[tuple[int, int]] = field(default_factory=list)
    """(line time [ns], accrued [units]) now and then: how fast it goes at present."""
    due_utc_ns: int | None = None
    """Since when it has been due."""

    def go_on(self, counts: Counts) -> None:
        """Accrue up to some counts of the bath, at the rates in force."""
        new = counts - self.seen
        self.accrued += self.rates.units(new)
        self.doubtful += self.rates.doubtful_units(new)
        self.seen = counts

    def change(self, rates: Rates, counts: Counts) -> None:
        """Let other rates hold from now on; what accrued before stays what it was."""
        self.go_on(counts)
        self.rates = rates

    def accrued_at(self, counts: Counts) -> int:
        """Return what accrued up to some counts [units], without going on."""
        return self.accrued + self.rates.units(counts - self.seen)

    def owed_at(self, counts: Counts) -> int:
        """Return what is owed at some counts [units]; negative if more was dosed."""
        return self.accrued_at(counts) - self.dosed_nl * UNITS_PER_NL

    def most_owed_at(self, counts: Counts) -> int:
        """Return what is owed at most [units]."""
        doubtful = self.doubtful + self.rates.doubtful_units(counts - self.seen)
        return self.owed_at(counts) + max(0, doubtful)

    def book(self, entry: Entry) -> None:
        """Add a dose or a counter-entry."""
        self.dosed_nl += entry.amount_nl
        corrected = self.entry(entry.corrects)
        if corrected is not None:
            corrected.corrected_by = entry.number
        self.entries = [*self.entries, entry][-ENTRIES_KEPT:]

    def entry(self, number: int | None) -> Entry | None:
        """Return an entry by its number; None if there is none, or it is too long ago."""
        return next((each for each in self.entries if each.number == number), None)

    def standing(self) -> list[Entry]:
        """Return the doses that count: neither counter-entries nor corrected."""
        return [
            each for each in self.entries if each.corrects is None and each.corrected_by is None
        ]

    def dosed_since_nl(self, from_ns: int) -> int:
        """Return what went in since a line time [nL]."""
        return sum(each.amount_nl for each in self.standing() if each.mono_ns >= from_ns)

    def mark(self, now_ns: int, every_ns: int, kept: int) -> None:
        """Note how far it has accrued, if the last note is old enough."""
        if not self.marks or now_ns - self.marks[-1][0] >= every_ns:
            self.marks = [*self.marks, (now_ns, self.accrued)][-kept:]

    def ml_per_ns(self, now_ns: int, counts: Counts) -> float:
        """Return how fast it is used up at present [mL/ns]; 0 if nothing tells."""
        if not self.marks or now_ns <= self.marks[0][0]:
            return 0.0
        then_ns, then = self.marks[0]
        return millilitres(self.accrued_at(counts) - then) / (now_ns - then_ns)

    def state(self) -> dict[str, Any]:
        """Return all that the future depends on, as JSON knows it; see `account_from`."""
        return asdict(self)


def account_from(kept: Mapping[str, Any]) -> Account:
    """Return an account from what `Account.state` told."""
    return Account(
        rates=Rates(**kept["rates"]),
        seen=Counts(**kept["seen"]),
        accrued=kept["accrued"],
        doubtful=kept["doubtful"],
        dosed_nl=kept["dosed_nl"],
        entries=[Entry(**each) for each in kept["entries"]],
        marks=[(at, units) for at, units in kept["marks"]],
        due_utc_ns=kept["due_utc_ns"],
    )
