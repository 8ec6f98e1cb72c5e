"""What a bath has seen: charge by what it was for, loads and area that left, time.

Rule 1: a tank's charge goes to one of three sums: product, dummy, idle. It is idle only where
        a signal says that no load is there; what nobody knows counts as product.
Rule 2: sums are closed at any moment without a loss: they are whole numbers of fine units
        times billionths of a share.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from linewatch.core.additions.balance import BILLION, Counts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Use = Literal["product", "dummy", "idle"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One rectifier's part in a tank, at one moment."""

    name: str
    share: float
    cathodic: int
    """Cathodic charge since ever [fine units]."""
    unmetered: int
    """The likely most that it gave while nothing told [fine units]."""


@dataclass(slots=True, kw_only=True)
class TankCount:
    """What one tank has given to its bath."""

    use: Use = "product"
    product: int = 0
    dummy: int = 0
    idle: int = 0
    unmetered: int = 0
    open: dict[str, list[int]] = field(default_factory=dict)
    """By rectifier: (cathodic, unmetered) up to which it was counted [fine units], and the
    share [billionths] that held."""

    def close(self, sources: Iterable[Given]) -> None:
        """Count up to now, by the shares that held; the present ones hold from now on."""
        counted = self.counted(sources)
        self.product, self.dummy, self.idle, self.unmetered = counted
        self.open = {
            each.name: [each.cathodic, each.unmetered, round(each.share * BILLION)]
            for each in sources
        }

    def counted(self, sources: Iterable[Given]) -> tuple[int, int, int, int]:
        """Return (product, dummy, idle, unmetered) up to now [counts], without closing."""
        charge = unmetered = 0
        for each in sources:
            if each.name in self.open:
                cathodic, before, share = self.open[each.name]
                charge += (each.cathodic - cathodic) * share
                unmetered += (each.unmetered - before) * share
        sums = {"product": self.product, "dummy": self.dummy, "idle": self.idle}
        sums[self.use] += charge
        return sums["product"], sums["dummy"], sums["idle"], self.unmetered + unmetered


@dataclass(slots=True, kw_only=True)
class BathCount:
    """What one bath has seen in all its tanks."""

    tanks: dict[str, TankCount] = field(default_factory=dict)
    loads: int = 0
    area_cm2: int = 0
    began_ns: int | None = None
    """Line time at which counting began; time that an additive loses by runs from here."""
    gone: tuple[int, int, int, int] = (0, 0, 0, 0)
    """What tanks gave that no longer belong to the bath."""

    def counts(self, sources: Mapping[str, Iterable[Given]], now_ns: int) -> Counts:
        """Return everything up to now, without closing.

        Args:
            sources: By tank, what its rectifiers have given.
            now_ns: Line time [ns].
        """
        sums = [
            self.gone,
            *(tank.counted(sources.get(name, ())) for name, tank in self.tanks.items()),
        ]
        product, dummy, idle, unmetered = (sum(column) for column in zip(*sums, strict=True))
        return Counts(
            product=product,
            dummy=dummy,
            idle=idle,
            unmetered=unmetered,
            loads=self.loads,
            area_cm2=self.area_cm2,
            time_ns=0 if self.began_ns is None else max(0, now_ns - self.began_ns),
        )

    def close(self, sources: Mapping[str, Iterable[Given]]) -> None:
        """Count every tank up to now."""
        for name, each in self.tanks.items():
            each.close(tuple(sources.get(name, ())))

    def settle(self, wanted: Iterable[str]) -> None:
        """Take other tanks than before; what the old ones gave stays."""
        names = tuple(wanted)
        for name in [each for each in self.tanks if each not in names]:
            tank = self.tanks.pop(name)
            own = (tank.product, tank.dummy, tank.idle, tank.unmetered)
            a, b, c, d = (x + y for x, y in zip(self.gone, own, strict=True))
            self.gone = (a, b, c, d)
        for name in names:
            self.tanks.setdefault(name, TankCount())

    def state(self) -> dict[str, Any]:
        """Return all that the future depends on, as JSON knows it; see `bath_count_from`."""
        return asdict(self)


def bath_count_from(kept: Mapping[str, Any]) -> BathCount:
    """Return a bath's count from what `BathCount.state` told."""
    a, b, c, d = kept["gone"]
    return BathCount(
        tanks={name: TankCount(**tank) for name, tank in kept["tanks"].items()},
        loads=kept["loads"],
        area_cm2=kept["area_cm2"],
        began_ns=kept["began_ns"],
        gone=(a, b, c, d),
    )
