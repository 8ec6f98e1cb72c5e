"""The fewest requests that a device accepts, and what its refusals teach."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.drivers.modbus.planner import ASK_HOLE_AGAIN_S, DeviceMap, Plan, Request, Span


def span(address: int, count: int = 1, *, column: int = 0, function: int = 3) -> Span:
    return Span(function=function, address=address, count=count, column=column)


def row(*addresses: int, count: int = 1, function: int = 3) -> list[Span]:
    return [
        span(address, count, column=column, function=function)
        for column, address in enumerate(addresses)
    ]


def blocks(plan: Plan) -> list[tuple[int, int]]:
    return [(request.address, request.count) for request in plan.requests]


def device(known: DeviceMap, spans: list[Span], accepts, now_s: float = 0.0):
    """Poll once as the driver does; return what was asked and which columns were read."""
    asked: list[tuple[int, int]] = []

    def fetch(request: Request) -> list[tuple[Request, bool]]:
        asked.append((request.address, request.count))
        if accepts(request):
            return [(request, True)]
        parts = known.split(request)
        if not parts:
            return [(request, False)]
        results = [result for part in parts for result in fetch(part)]
        if all(good for _, good in results):
            known.parts_answered(request, [part for part, _ in results])
        return results

    results = [pair for each in known.plan(spans, now_s).requests for pair in fetch(each)]
    for part, good in results:
        if good:
            known.answered_alone(part)
        elif any(good for _, good in results):
            known.refused_alone(part, now_s)
    read = {span.column for part, good in results if good for span in part.spans}
    return asked, read


def test_neighbours_and_small_holes_go_into_one_request():
    plan = DeviceMap(largest_hole=16).plan(row(0, 1, 2, 19, 36), 0.0)
    assert blocks(plan) == [(0, 37)]


def test_a_hole_that_is_too_large_parts_two_requests():
    assert blocks(DeviceMap(largest_hole=16).plan(row(0, 18), 0.0)) == [(0, 1), (18, 1)]
    assert blocks(DeviceMap(largest_hole=0).plan(row(0, 1, 3), 0.0)) == [(0, 2), (3, 1)]


def test_no_request_is_larger_than_the_device_allows():
    plan = DeviceMap(largest_block=50).plan(row(*range(125)), 0.0)
    assert blocks(plan) == [(0, 50), (50, 50), (100, 25)]


def test_no_request_is_larger_than_the_protocol_allows():
    registers = DeviceMap().plan(row(*range(300)), 0.0)
    assert [count for _, count in blocks(registers)] == [125, 125, 50]
    coils = DeviceMap().plan(row(*range(2500), function=1), 0.0)
    assert [count for _, count in blocks(coils)] == [2000, 500]


def test_a_value_is_never_torn():
    plan = DeviceMap(largest_block=5).plan(row(0, 2, 4, 6, count=2), 0.0)
    assert blocks(plan) == [(0, 4), (4, 4)]


def test_a_value_longer_than_the_largest_block_is_asked_for_all_the_same():
    assert blocks(DeviceMap(largest_block=2).plan(row(8, count=4), 0.0)) == [(8, 4)]


def test_tables_are_never_mixed():
    spans = [span(0, column=0), span(0, column=1, function=4), span(0, column=2, function=1)]
    plan = DeviceMap().plan(spans, 0.0)
    assert sorted(request.function for request in plan.requests) == [1, 3, 4]


def test_the_same_register_may_mean_several_things():
    spans = [span(5, column=0), span(5, column=1), span(4, 2, column=2)]
    (request,) = DeviceMap().plan(spans, 0.0).requests
    assert (request.address, request.count) == (4, 2)
    assert {each.column for each in request.spans} == {0, 1, 2}


def test_a_request_stays_within_one_readable_range():
    known = DeviceMap(ranges={3: ((0, 9), (10, 29))})
    assert blocks(known.plan(row(0, 9, 10, 20), 0.0)) == [(0, 10), (10, 11)]


def test_what_lies_outside_every_range_is_asked_for_alone():
    known = DeviceMap(ranges={3: ((0, 9),)})
    assert blocks(known.plan(row(8, 9, 10, 11), 0.0)) == [(8, 2), (10, 1), (11, 1)]


def fewest(spans: list[Span], largest: int, hole: int) -> int:
    """The least number of requests, by trying every last group."""
    ordered = sorted({(each.address, each.end) for each in spans})
    best = [0]
    for end in range(1, len(ordered) + 1):
        options = []
        for start in range(end):
            group = ordered[start:end]
            reach, fits = group[0][1], True
            for first, last in group[1:]:
                fits &= first - reach <= hole
                reach = max(reach, last)
            if len(group) == 1 or (fits and reach - group[0][0] <= largest):
                options.append(best[start] + 1)
        best.append(min(options))
    return best[-1]


@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.sampled_from([1, 2, 4])), min_size=1, max_size=12
    ),
    st.integers(4, 40),
    st.integers(0, 12),
)
def test_no_plan_has_fewer_requests(places, largest, hole):
    # Values of one length cannot lie inside one another, which greedy joining relies on.
    length = places[0][1]
    spans = [span(address, length, column=column) for column, (address, _) in enumerate(places)]
    plan = DeviceMap(largest_block=largest, largest_hole=hole).plan(spans, 0.0)

    assert len(plan.requests) == fewest(spans, largest, hole)
    assert sorted(each.column for request in plan.requests for each in request.spans) == list(
        range(len(spans))
    )
    for request in plan.requests:
        assert request.count <= largest
        assert all(
            request.address <= each.address and each.end <= request.end
            for each in request.spans
        )


def test_a_hole_in_the_map_is_isolated_and_then_left_out():
    # The replay of a real map: 11174 to 11177 is refused whole, 11174 alone and
    # 11176 to 11177 are answered.
    def accepts(request):
        return not request.address <= 11175 < request.end

    spans = row(11174, 11175, 11176, 11177)
    known = DeviceMap()
    asked, read = device(known, spans, accepts)
    assert read == {0, 2, 3}
    assert len(asked) <= 2 * len(spans)

    asked, read = device(known, spans, accepts)
    assert asked == [(11174, 1), (11176, 2)]
    assert read == {0, 2, 3}
    assert known.plan(spans, 0.0).holes == (spans[1],)


def test_a_hole_between_two_values_is_no_longer_read_along():
    def accepts(request):
        return not request.address <= 3 < request.end

    known = DeviceMap()
    device(known, row(0, 1, 5, 6), accepts)
    asked, read = device(known, row(0, 1, 5, 6), accepts)
    assert asked == [(0, 2), (5, 2)]
    assert read == {0, 1, 2, 3}


@pytest.mark.parametrize("limit", [50, 64, 96, 7, 1])
def test_a_smaller_largest_block_is_learned(limit):
    def accepts(request):
        return request.count <= limit

    spans = row(*range(125))
    known = DeviceMap()
    for _ in range(25):
        asked, read = device(known, spans, accepts)
        assert read == set(range(125))
    assert all(count <= limit for _, count in asked)
    # Within one usual size of what the device really takes.
    assert len(asked) <= {50: 3, 64: 2, 96: 2, 7: 32, 1: 125}[limit]


def test_what_a_device_refuses_entirely_teaches_nothing():
    known = DeviceMap()
    _, read = device(known, row(0, 1, 2, 3), lambda _: False)
    assert read == set()
    assert blocks(known.plan(row(0, 1, 2, 3), 0.0)) == [(0, 4)]


def test_a_hole_is_asked_again_rarely_and_forgotten_once_it_is_filled():
    is_filled = False

    def accepts(request):
        return is_filled or not request.address <= 1 < request.end

    spans = row(0, 1, 2)
    known = DeviceMap()
    device(known, spans, accepts, now_s=0.0)
    assert known.plan(spans, 1.0).until_s == ASK_HOLE_AGAIN_S
    asked, _ = device(known, spans, accepts, now_s=ASK_HOLE_AGAIN_S)
    assert (1, 1) in asked
    asked, _ = device(known, spans, accepts, now_s=ASK_HOLE_AGAIN_S + 1.0)
    assert (1, 1) not in asked

    is_filled = True
    device(known, spans, accepts, now_s=2 * ASK_HOLE_AGAIN_S + 1.0)
    asked, read = device(known, spans, accepts, now_s=2 * ASK_HOLE_AGAIN_S + 2.0)
    assert asked == [(0, 3)]
    assert read == {0, 1, 2}


@settings(max_examples=200)
@given(
    st.sets(st.integers(0, 80), min_size=2, max_size=30),
    st.sets(st.integers(0, 80), max_size=6),
    st.integers(1, 60),
)
def test_whatever_the_map_looks_like_all_that_can_be_read_is_read(addresses, holes, limit):
    def accepts(request):
        return request.count <= limit and not any(
            request.address <= hole < request.end for hole in holes
        )

    spans = row(*sorted(addresses))
    known = DeviceMap()
    readable = {each.column for each in spans if each.address not in holes}
    for _ in range(60):
        asked, read = device(known, spans, accepts)
        assert read == readable
        assert len(asked) <= 4 * len(spans)
    # In the end nothing that is asked is refused, unless the device refuses everything.
    if readable:
        refused = [
            (address, count)
            for address, count in asked
            if not accepts(Request(function=3, address=address, count=count, spans=()))
        ]
        assert refused == []


def test_overlapping_values_are_not_parted():
    known = DeviceMap()
    (request,) = known.plan([span(0, 2), span(1, 2, column=1)], 0.0).requests
    assert known.split(request) is None
