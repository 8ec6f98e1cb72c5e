"""What the line keeps of notices: who was told, and which ways fail."""

from linewatch.core.commands import TellNotice
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from tests.core.line.test_loads import PLAN, Shop


def said(way: str, text: str, *, did: bool, alarms: str = "") -> TellNotice:
    return TellNotice(who="notices", way=way, did=did, text=text, alarms=alarms)


def test_a_way_that_fails_stands_on_the_picture_until_it_is_heard_again():
    shop = Shop()
    news = shop.say(said("mail", "the service did not take it (503)", did=False))
    assert news[-1].kind is EventKind.NOTICE
    assert news[-1].text == "not heard: the service did not take it (503)"
    assert shop.line.picture(shop.at).not_heard == {"mail": "the service did not take it (503)"}

    again = Line(PLAN, shop.line.memory())
    assert again.picture(shop.at).not_heard == shop.line.picture(shop.at).not_heard

    shop.say(said("mail", "told mail: one.temperature low", did=True, alarms="a.b.low@17"))
    assert shop.line.picture(shop.at).not_heard == {}
    assert shop.events[-1].values["alarms"] == "a.b.low@17"
