"""Where a load is told to be: where it hangs now, not where its last finished stay was."""

from dataclasses import replace

from linewatch.core.view import WayPicture
from linewatch.wiring.loads import places_of, records_of
from tests.ui import invented


def test_a_load_is_where_it_hangs_now_on_its_way_or_where_it_was_last():
    picture = invented.line(long=True)
    tank = next(each for each in picture.tanks if each.load is not None)
    here = tank.load.number
    way = WayPicture(load="9001", before="seal", since_utc_ns=invented.NOON, out_s=40.0)
    desk = invented.InventedDesk(
        replace(picture, ways=(way,)),
        past=[
            invented.stay(1, "9002", "seal", minutes_ago=30),
            invented.stay(2, "9001", "seal", minutes_ago=1),
            invented.stay(3, here, "seal", minutes_ago=0.5),
        ],
    )
    found = records_of(desk, 20)
    places = dict(zip([each.number for each in found], places_of(desk, found), strict=True))

    assert places == {
        here: tank.name,
        "9001": "on its way from Seal",
        "9002": "seal (invented)",
    }


def test_without_a_picture_it_is_where_its_last_stay_was():
    desk = invented.InventedDesk(None, past=[invented.stay(1, "9", "seal", minutes_ago=1)])

    assert places_of(desk, records_of(desk, 20)) == ["seal (invented)"]
