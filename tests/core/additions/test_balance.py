"""An account is a balance: exact, whatever the order of work."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.additions.balance import (
    COUNTS_PER_AH,
    DAY_NS,
    UNITS_PER_NL,
    Account,
    Counts,
    Entry,
    Rates,
    account_from,
    millilitres,
    nanolitres,
)
from linewatch.core.electrochemistry.baths import additive_dose_ml

BIG = st.integers(0, 10**30)
RATES = st.builds(
    Rates,
    charge_nl=st.integers(0, 10**9),
    dummy_nl=st.integers(0, 10**9),
    area_nl=st.integers(0, 10**8),
    load_nl=st.integers(0, 10**8),
    day_nl=st.integers(0, 10**9),
)
STEPS = st.builds(
    Counts,
    product=BIG,
    dummy=BIG,
    idle=BIG,
    unmetered=BIG,
    loads=st.integers(0, 5),
    area_cm2=st.integers(0, 10**6),
    time_ns=st.integers(0, 10**15),
)
AMOUNTS = st.integers(1, 10**10)


def entry(number, amount_nl, corrects=None):
    return Entry(number=number, utc_ns=0, amount_nl=amount_nl, who="ab", corrects=corrects)


def used_up(rates, counts):
    """Return what is used up [nL], by the definition of each rate."""
    charge = Fraction(counts.product * rates.charge_nl + counts.dummy * rates.dummy_nl)
    return (
        charge / (1000 * COUNTS_PER_AH)
        + Fraction(counts.area_cm2 * rates.area_nl, 10_000)
        + counts.loads * rates.load_nl
        + Fraction(counts.time_ns * rates.day_nl, DAY_NS)
    )


@given(rates=RATES, steps=st.lists(STEPS, max_size=8), doses=st.lists(AMOUNTS, max_size=8))
def test_owed_is_accrued_less_dosed_always(rates, steps, doses):
    account, counts, accrued, dosed = Account(rates=rates), Counts(), Fraction(0), 0
    for number, step in enumerate(steps):
        counts = counts + step
        accrued += used_up(rates, step)
        account.go_on(counts)
        if number < len(doses):
            account.book(entry(number, doses[number]))
            dosed += doses[number]
        assert Fraction(account.owed_at(counts), UNITS_PER_NL) == accrued - dosed
        assert account.most_owed_at(counts) >= account.owed_at(counts)


@given(rates=RATES, steps=st.lists(STEPS, max_size=10), data=st.data())
def test_any_split_of_time_gives_the_same_sum_to_the_bit(rates, steps, data):
    often, seldom, counts = Account(rates=rates), Account(rates=rates), Counts()
    for step in steps:
        counts = counts + step
        if data.draw(st.booleans()):
            seldom.go_on(counts)
        often.go_on(counts)
    assert seldom.accrued_at(counts) == often.accrued_at(counts) == rates.units(counts)
    assert seldom.owed_at(counts) == often.owed_at(counts)
    assert seldom.most_owed_at(counts) == often.most_owed_at(counts)


@given(rates=RATES, before=STEPS, amount=AMOUNTS, other=AMOUNTS)
def test_an_entry_and_its_counter_entry_cancel_exactly_and_both_stay(
    rates, before, amount, other
):
    account = Account(rates=rates)
    account.go_on(before)
    account.book(entry(1, other))
    owed, dosed = account.owed_at(before), account.dosed_nl
    account.book(entry(2, amount))
    account.book(entry(3, -amount, corrects=2))
    assert (account.owed_at(before), account.dosed_nl) == (owed, dosed)
    assert [each.number for each in account.entries] == [1, 2, 3]
    assert [each.number for each in account.standing()] == [1]


@given(first=RATES, second=RATES, before=STEPS, after=STEPS)
def test_a_changed_rate_holds_from_then_on_and_never_backwards(first, second, before, after):
    account = Account(rates=first)
    account.change(second, before)
    whole = before + after
    assert account.accrued_at(whole) == first.units(before) + second.units(after)


@given(rates=RATES, steps=st.lists(STEPS, max_size=5), doses=st.lists(AMOUNTS, max_size=5))
def test_an_account_goes_on_from_its_state(rates, steps, doses):
    account, counts = Account(rates=rates), Counts()
    for number, (step, amount) in enumerate(zip(steps, doses, strict=False)):
        counts = counts + step
        account.go_on(counts)
        account.book(entry(number, amount))
        account.mark(number, 1, 3)
    assert account_from(account.state()) == account


@given(charge_ah=st.integers(0, 10**6), rate=st.integers(0, 1000))
def test_what_a_charge_uses_up_is_what_the_formula_says(charge_ah, rate):
    # The formula itself is held to a published worked answer among the outside values.
    units = Rates(charge_nl=nanolitres(rate)).units(Counts(product=charge_ah * COUNTS_PER_AH))
    assert millilitres(units) == pytest.approx(additive_dose_ml(charge_ah, rate), rel=1e-12)


@given(rates=RATES, counts=STEPS)
def test_doubtful_charge_widens_the_range_and_never_moves_its_lower_end(rates, counts):
    certain = Counts(product=counts.product, dummy=counts.dummy)
    account = Account(rates=rates)
    with_doubt = Counts(
        product=counts.product, dummy=counts.dummy, idle=counts.idle, unmetered=1
    )
    assert account.owed_at(with_doubt) == account.owed_at(certain)
    if rates.charge_nl:
        assert account.most_owed_at(with_doubt) > account.owed_at(with_doubt)
