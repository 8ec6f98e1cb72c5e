"""What people find at positions, and signatures: taken, refused, remembered."""

import pytest

from linewatch.core.commands import HandReading, LogCheck, SignSheet
from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.line.sheets import checks_of, signed_of
from linewatch.core.ports import Order
from linewatch.core.readings import Moment
from linewatch.core.sheets.sheet import checks_in, reads_in
from tests.core.line import bathing

NS = bathing.NS


def at(seconds: float) -> Moment:
    ns = round(seconds * NS)
    return Moment(utc_ns=bathing.UTC_NS + ns, mono_ns=ns)


def line() -> Line:
    shop = bathing.Shop()
    shop.run(10)
    return shop.line


def check(item: str, words: str = "good", subject: str = "one", *, bad: bool = False):
    return LogCheck(who="AB", subject=subject, item=item, found=words, is_bad=bad)


def said(to: Line, command, seconds: float = 20.0):
    return to.obey(Order(request=1, command=command, at=at(seconds)))


def test_what_was_found_stands_in_the_record_and_on_the_picture():
    here = line()
    (act,) = said(here, check("bags", "two torn", bad=True))
    assert act.kind is EventKind.COMMAND
    assert act.subject == "one"
    assert "bags two torn" in act.text
    (told,) = checks_in(act)
    assert checks_of(here) == (told,)
    assert here.picture(at(20.0)).checks == (told,)


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (check("bags", subject="nowhere"), "no position 'nowhere'"),
        (check("nonsense"), "surface, air, anodes, bags"),
        (check("bags", "   "), "say what was found"),
        (check("bags", "x" * 300), "1 to 200 characters"),
    ],
)
def test_what_is_no_check_is_refused_and_changes_nothing(command, says):
    here = line()
    with pytest.raises(Refused, match=says):
        said(here, command)
    assert checks_of(here) == ()


def test_a_whole_position_is_found_good_in_one_act():
    here = line()
    (act,) = said(here, check("bags,anodes, surface"))
    assert [each.item for each in checks_in(act)] == ["bags", "anodes", "surface"]
    assert checks_of(here) == checks_in(act)
    with pytest.raises(Refused, match="surface, air, anodes, bags"):
        said(here, check("bags,nonsense"))
    with pytest.raises(Refused, match="surface, air, anodes, bags"):
        said(here, check(","))


def test_a_signature_writes_down_what_every_signal_reads_in_one_event():
    here = line()
    act, told = said(here, SignSheet(who="AB"))
    assert act.kind is EventKind.COMMAND
    assert told.text.startswith("sheet: ")
    by_subject = reads_in(told)
    assert by_subject["one"]["temperature"].value == bathing.USUAL[3]
    assert by_subject["one"]["temperature"].high == 63.0
    assert by_subject["r-one"]["current"].value == bathing.USUAL[0]
    assert signed_of(here) == (at(20.0).utc_ns, "AB")


def test_checks_outlive_a_restart_and_old_ones_are_let_go():
    here = line()
    said(here, check("bags"))
    again = Line(bathing.PLAN, here.memory())
    assert checks_of(again) == checks_of(here)
    assert len(checks_of(again)) == 1
    said(again, check("anodes"), 27 * 3600.0)
    assert [each.item for each in checks_of(again)] == ["anodes"]


def test_a_signature_holds_why_a_signal_told_nothing_and_its_window():
    shop = bathing.Shop()
    shop.run(10)
    shop.run(10, one__temperature=None)
    _, told = said(shop.line, SignSheet(who="AB"))
    read = reads_in(told)["one"]["temperature"]
    assert (read.value, read.why) == (None, "no answer")
    assert (read.low, read.high) == (57.0, 63.0)
    # What is there is counted as read, and nothing else.
    count = sum(key.startswith("read ") for key in told.values)
    assert told.text.startswith(f"sheet: {count} signals read")


def test_a_value_that_was_typed_in_keeps_who_typed_it_in():
    here = line()
    said(here, HandReading(who="CD", subject="two", kind="ph", value=4.1, unit="pH"))
    (tank,) = [each for each in here.picture(at(20.0)).tanks if each.id == "two"]
    assert tank.figures["ph"].who == "CD"
