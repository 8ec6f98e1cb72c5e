"""What a gap means for a charge: whether it may be short, and which of it is worth telling."""

from __future__ import annotations

import pytest

from linewatch.core.events import EventKind
from tests.core.line.bathing import Shop

GAP_S = 300


class Metered(Shop):
    """A shop whose first rectifier counts what it gives in steps of 0.1 A·h."""

    def run(self, seconds: int, **shown) -> list:
        self.shown |= {
            name.replace("__", ".").replace("_", "-"): v for name, v in shown.items()
        }
        news = []
        for _ in range(0, seconds, 10):
            self.given_ah = getattr(self, "given_ah", 0.0) + (self.amperes or 0.0) * 10 / 3600
            is_read = self.shown["r-one.current"] is not None
            self.shown["r-one.charge-meter"] = (
                round(self.given_ah - 0.05, 1) if is_read else None
            )
            news += super().run(10)
        return news

    amperes = 100.0

    def gap(self, amperes: float = 100.0, seconds: int = GAP_S) -> list:
        """Let nothing of the first rectifier be read for a time, then all again."""
        self.amperes = amperes
        self.run(seconds, r_one__current=None)
        return self.run(30, r_one__current=amperes)

    def charge(self, tank: str = "one"):
        return next(each.charge for each in self.line.picture(self.at).tanks if each.id == tank)


def recovered(events) -> list[str]:
    return [each.text for each in events if each.kind is EventKind.CHARGE_RECOVERED]


def test_a_charge_is_not_short_between_two_readings():
    shop = Metered()
    shop.run(600)
    for _ in range(9):
        shop.at_s += 1
        charge = shop.charge()
        assert charge.missed_ah == 0.0
        assert not charge.is_short


def test_a_charge_is_short_while_a_gap_may_hold_more_than_its_uncertainty():
    shop = Metered()
    shop.run(3600)
    assert not shop.charge().is_short

    shop.run(GAP_S, r_one__current=None)

    # 500 A are rated: more than 40 A·h may have flowed, of 100 A·h the ± is 1 or 2.
    assert shop.charge().missed_ah == pytest.approx(500.0 * GAP_S / 3600, rel=0.1)
    assert shop.charge().is_short
    assert not shop.charge("two").is_short


def test_a_charge_is_not_short_as_soon_as_the_meter_has_told_the_gap():
    shop = Metered()
    shop.run(3600)
    shop.run(GAP_S, r_one__current=None)

    shop.run(10, r_one__current=100.0)

    assert shop.charge().missed_ah == 0.0
    assert shop.charge().recovered_s >= GAP_S


def test_a_charge_that_no_meter_tells_stays_short_until_its_uncertainty_covers_the_gap():
    shop = Metered()
    shop.run(600)
    shop.run(30, r_two__current=None)
    shop.run(600, r_two__current=200.0)
    assert shop.charge("two").missed_ah == pytest.approx(500.0 * 40 / 3600)
    assert shop.charge("two").is_short

    shop.run(8 * 3600)

    assert shop.charge("two").missed_ah == pytest.approx(500.0 * 40 / 3600)
    assert not shop.charge("two").is_short


def test_a_recovered_gap_is_told_with_its_charge():
    shop = Metered()
    shop.run(3600)
    news = shop.gap()

    first, *_ = recovered(news)
    assert first.endswith(f" A·h of a gap of {GAP_S + 10} s recovered from its meter")
    assert float(first.partition(" ")[0]) == pytest.approx(100.0 * GAP_S / 3600, abs=0.4)


def test_a_gap_in_which_nothing_flowed_is_in_the_account_and_no_event():
    shop = Metered()
    shop.run(3600)
    shop.amperes = 0.0
    shop.run(600, r_one__current=0.0)

    assert recovered(shop.gap(0.0)) == []
    assert shop.charge().recovered_s == GAP_S + 10


def test_less_than_a_step_of_the_meter_is_in_the_account_and_no_event():
    shop = Metered()
    shop.amperes = 1.0
    shop.run(3600, r_one__current=1.0)

    # 0.09 A·h may have flowed, the meter counts tenths.
    assert recovered(shop.gap(1.0)) == []
    assert shop.charge().recovered_s == GAP_S + 10
    assert shop.charge().cathodic_ah == pytest.approx(1.0 * (3600 + GAP_S + 30) / 3600, abs=0.1)
