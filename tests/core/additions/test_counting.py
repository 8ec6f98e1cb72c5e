"""A bath's charge is counted by what it was for, without a loss at any split."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.additions.counting import BathCount, Given, TankCount, bath_count_from

STEPS = st.lists(
    st.tuples(st.integers(0, 10**18), st.sampled_from(["product", "dummy", "idle"])),
    max_size=12,
)
SHARES = st.sampled_from([1.0, 0.5, 1 / 3, 0.123456789])


def source(cathodic, share, name="r"):
    return (Given(name=name, share=share, cathodic=cathodic, unmetered=0),)


@given(steps=STEPS, share=SHARES, data=st.data())
def test_closing_a_count_anywhere_changes_no_sum(steps, share, data):
    often, seldom, total = TankCount(), TankCount(), 0
    for each in (often, seldom):
        each.close(source(0, share))
    for charge, use in steps:
        if use != often.use:
            for each in (often, seldom):
                each.close(source(total, share))
                each.use = use
        total += charge
        often.close(source(total, share))
        if data.draw(st.booleans()):
            seldom.close(source(total, share))
    assert often.counted(source(total, share)) == seldom.counted(source(total, share))
    assert sum(often.counted(source(total, share))[:3]) == total * round(share * 10**9)


@given(before=st.integers(0, 10**18), after=st.integers(0, 10**18))
def test_what_a_changed_share_counts_holds_from_then_on(before, after):
    count = TankCount()
    count.close(source(0, 1.0))
    count.close(source(before, 0.5))
    product = count.counted(source(before + after, 0.5))[0]
    assert product == before * 10**9 + after * 5 * 10**8


@given(charge=st.integers(0, 10**18))
def test_two_rectifiers_of_one_bath_are_one_sum(charge):
    bath = BathCount(began_ns=0)
    bath.settle(("one", "two"))
    zero = {"one": source(0, 1.0, "a"), "two": source(0, 1.0, "b")}
    bath.close(zero)
    now = {"one": source(charge, 1.0, "a"), "two": source(2 * charge, 1.0, "b")}
    assert bath.counts(now, 0).product == 3 * charge * 10**9


@given(charge=st.integers(0, 10**18))
def test_a_tank_that_leaves_a_bath_leaves_its_charge_behind(charge):
    bath = BathCount(began_ns=0)
    bath.settle(("one",))
    bath.close({"one": source(0, 1.0)})
    bath.close({"one": source(charge, 1.0)})
    bath.settle(())
    assert bath.counts({}, 0).product == charge * 10**9
    assert bath_count_from(bath.state()) == bath
