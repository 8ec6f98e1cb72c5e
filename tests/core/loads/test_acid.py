"""How long a load was in acid in total stands on its page."""

import datetime

from linewatch.core.events import Event, EventKind
from linewatch.core.loads.page import load_page
from linewatch.core.loads.record import load_record
from linewatch.core.pages import Shown

S = 1_000_000_000


def stay(tank, kind, dwell_s, at_s):
    return Event(
        kind=EventKind.LOAD,
        subject="load/7",
        utc_ns=at_s * S,
        mono_ns=at_s * S,
        text="left",
        values={
            "what": "stay",
            "load": "7",
            "trip": 1,
            "by": "number",
            "tank": tank,
            "tank_name": tank,
            "kind": kind,
            "in_utc_ns": (at_s - dwell_s) * S,
            "out_utc_ns": at_s * S,
            "dwell_s": float(dwell_s),
            "fingerprint": "f" * 64,
        },
    )


def below(*stays):
    show = Shown("metric", lambda utc_ns: str(datetime.timedelta(seconds=utc_ns // S)))
    return load_page(load_record("7", list(stays)), "works", show).below


def test_the_times_in_every_acid_are_added_up():
    lines = below(
        stay("acid-1", "activate", 60, 100),
        stay("nickel", "plate", 280, 400),
        stay("acid-2", "activate", 45, 500),
    )

    assert "In acid 105 s altogether, in 2 stays." in lines


def test_one_stay_is_said_as_one_and_none_is_not_said():
    assert "In acid 60 s altogether, in 1 stay." in below(stay("a", "activate", 60, 100))
    assert not any("acid" in line for line in below(stay("n", "plate", 60, 100)))
