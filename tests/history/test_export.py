"""What other tools may have is what was recorded."""

from __future__ import annotations

import json
import zipfile

import polars as pl
import pytest

from linewatch.core.commands import WriteNote
from linewatch.history.exports import ENDINGS, NotExported, Wish, export
from tests.history.made_up import BEGIN_UTC_NS, LINE, NS, batch, block, event, moment, run_start

SPAN = (BEGIN_UTC_NS, BEGIN_UTC_NS + 3600 * NS)


@pytest.fixture
def store(open_journal, open_desk, tmp_path):
    """Return a store with four blocks, one of them with a bad value, an event and an action."""
    journal = open_journal()
    nan = float("nan")
    journal.append(
        batch(
            run_start(),
            *(block(second, 61.0 + second, 5.0, -0.1) for second in (1.0, 2.0, 3.0)),
            block(4.0, nan, 5.0, -0.1),
            events=[event(2.0, "=HYPERLINK(0)", limit=65.0)],
        )
    )
    desk = open_desk()
    desk.request(WriteNote(who="ab", subject="nickel-1", text="foam"))
    journal.append(batch(outcomes={1: ""}))
    journal.settle()
    return tmp_path


def wish(**parts) -> Wish:
    return Wish(**{"span": SPAN, **parts})


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_samples_come_with_their_quality_and_bad_ones_without_a_value(store, ending):
    target = store / f"out{ending}"

    rows = export(store, LINE, target, wish(tags=["nickel-1.temperature"]))

    read = pl.read_csv if ending == ".csv" else pl.read_parquet
    frame = read(target)
    assert rows == len(frame) == 4
    assert frame["value"].to_list() == [62.0, 63.0, 64.0, None]
    assert frame["quality"].to_list() == ["good", "good", "good", "no answer"]
    if ending == ".csv":
        assert frame["time"][0] == "2026-02-25T06:13:21.000Z"
    else:
        assert frame["time"].cast(pl.Int64)[0] == moment(1.0).utc_ns


def test_without_tags_everything_is_exported(store):
    target = store / "out.parquet"

    export(store, LINE, target, wish())

    assert pl.read_parquet(target)["tag"].n_unique() == 3


def test_a_series_has_low_mean_and_high(store):
    target = store / "out.parquet"

    rows = export(
        store, LINE, target, wish(what="series", tags=["nickel-1.temperature"], width=60)
    )

    frame = pl.read_parquet(target)
    assert rows == 60
    first = frame.row(0, named=True)
    assert (first["low"], first["high"], first["good_s"]) == (62.0, 64.0, 3.0)
    assert frame["low"].null_count() == 59


def test_the_head_of_the_people_s_journal_stands_in_every_export(store, open_desk):
    head = open_desk().actions()[-1].seal
    for ending in ENDINGS:
        export(store, LINE, store / f"out{ending}", wish(what="people"))

    assert pl.read_parquet_metadata(store / "out.parquet")["linewatch.people_head"] == head
    assert json.loads((store / "out.csv.about.json").read_text())["people_head"] == head
    with zipfile.ZipFile(store / "out.xlsx") as book:
        assert head in book.read("xl/sharedStrings.xml").decode()


def test_text_in_a_spreadsheet_is_text_and_no_formula(store):
    target = store / "out.xlsx"

    export(store, LINE, target, wish(what="events"))

    with zipfile.ZipFile(target) as book:
        sheet = book.read("xl/worksheets/sheet1.xml").decode()
        assert "=HYPERLINK(0)" in book.read("xl/sharedStrings.xml").decode()
    assert "<f>" not in sheet


def test_local_times_stand_beside_utc_with_their_offset(store):
    target = store / "out.csv"

    export(store, LINE, target, wish(what="events", zone="Europe/Berlin"))

    assert pl.read_csv(target)["local_time"][0] == "2026-02-25T07:13:22.000+01:00"


@pytest.mark.parametrize(
    ("name", "asked", "said"),
    [
        ("out.docx", {}, "no format '.docx' is known; use .csv, .parquet, .xlsx"),
        ("out.csv", {"tags": ["no-such.tag"]}, "no tag 'no-such.tag' was ever recorded"),
        ("out.csv", {"zone": "Mars"}, "no time zone 'Mars' is known"),
        ("no/such/folder/out.csv", {}, "not written"),
    ],
)
def test_what_cannot_be_exported_is_refused_in_words(store, name, asked, said):
    with pytest.raises(NotExported, match=said):
        export(store, LINE, store / name, wish(**asked))


def test_more_rows_than_a_sheet_holds_are_refused(store, monkeypatch):
    from linewatch.history import exports

    monkeypatch.setattr(exports, "SHEET_ROWS", 3)

    with pytest.raises(NotExported, match="4 rows are more than a spreadsheet holds"):
        export(store, LINE, store / "out.xlsx", wish(tags=["nickel-1.temperature"]))


def test_a_series_over_centuries_has_its_values_where_they_were_measured(store, open_desk):
    year_ns = 366 * 24 * 3600 * NS
    found = open_desk().series("nickel-1.temperature", 0, 200 * year_ns, 1000)

    starts = found.start_utc_ns
    assert starts[0] == 0
    assert (starts[1:] > starts[:-1]).all()
    assert starts[-1] < 200 * year_ns
    where = int((starts <= BEGIN_UTC_NS).sum()) - 1
    assert found.low[where] == 62.0
    assert found.high[where] == 64.0


def test_the_record_says_when_it_begins_and_ends(open_journal, open_desk):
    journal = open_journal()
    journal.append(batch(run_start(), block(3.0, 61.0, 5.0, -0.1)))
    journal.settle()

    begin, end = open_desk().ends()
    assert begin == moment(0.0).utc_ns
    assert end > moment(3.0).utc_ns
    assert end - begin < 3600 * NS
