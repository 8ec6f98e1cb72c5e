"""Alarms that are newer than the picture are laid over it, and nothing else is."""

from linewatch.core.events import EventKind
from linewatch.ui.feed import Sight, overlaid
from tests.ui import invented


def moved(after_s, to, alarm="nickel-1.temperature.low"):
    return invented.event(
        1,
        "temperature low",
        kind=EventKind.ALARM,
        subject="nickel-1",
        after_s=after_s,
        alarm=alarm,
        to=to,
        priority="high",
        value=54.2,
        limit=58.0,
    ).event


def test_a_new_alarm_is_added_with_its_parts():
    [alarm] = overlaid(invented.line(), [moved(1, "unacknowledged")]).alarms

    assert (alarm.id, alarm.tag, alarm.kind) == (
        "nickel-1.temperature.low",
        "nickel-1.temperature",
        "low",
    )
    assert (alarm.priority, alarm.value, alarm.limit) == ("high", 54.2, 58.0)
    assert alarm.since_utc_ns == invented.NOON + invented.S


def test_a_known_alarm_takes_its_new_state_and_keeps_what_it_says_to_do():
    picture = invented.troubled()
    shown = overlaid(picture, [moved(1, "acknowledged")])
    [before] = [each for each in picture.alarms if each.id == "nickel-1.temperature.low"]
    [after] = [each for each in shown.alarms if each.id == "nickel-1.temperature.low"]

    assert after.state == "acknowledged"
    assert after.action == before.action
    assert len(shown.alarms) == len(picture.alarms)


def test_an_alarm_that_is_normal_again_is_gone():
    shown = overlaid(invented.troubled(), [moved(1, "normal")])

    assert "nickel-1.temperature.low" not in {each.id for each in shown.alarms}


def test_what_the_picture_knows_already_changes_nothing():
    picture = invented.line()

    assert overlaid(picture, [moved(0, "unacknowledged"), moved(-5, "normal")]) is picture


def test_other_events_change_nothing():
    picture = invented.line()

    assert overlaid(picture, [invented.event(9, "a note").event]) is picture


def test_nothing_is_live_without_a_picture_a_collector_and_freshness():
    picture = invented.line()

    assert Sight(picture=picture).is_live
    assert not Sight(picture=None).is_live
    assert not Sight(picture=picture, is_alive=False).is_live
    assert not Sight(picture=picture, is_fresh=False).is_live
