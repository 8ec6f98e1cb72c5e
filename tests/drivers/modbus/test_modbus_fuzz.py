"""Frames that nearly answer, and a second opinion that judges what was believed."""

import importlib.util
import sys
import tracemalloc
from pathlib import Path

import pytest

from linewatch.drivers.modbus.question import Answer, Broken, judged
from linewatch.drivers.modbus.rtu import crc

_SPEC = importlib.util.spec_from_file_location(
    "fuzz_modbus_guard", Path(__file__).with_name("fuzz_modbus_guard.py")
)
fuzz = importlib.util.module_from_spec(_SPEC)
sys.modules[_SPEC.name] = fuzz
_SPEC.loader.exec_module(fuzz)


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu"])
def test_nothing_is_believed_that_does_not_answer(rtu):
    report = fuzz.run(25_000, seed=20260, rtu=rtu)

    assert report.wrong == []
    assert report.clean_refused == []
    assert report.frames == 25_000
    assert report.nearly_right >= report.frames / 2 - 500
    assert report.accepted > report.answers_sent * 0.99


def test_the_checksums_of_guard_and_second_opinion_agree():
    for length in range(64):
        body = bytes((7 * each + length) % 256 for each in range(length))
        assert crc(body) == fuzz.checksum(body) == fuzz.fast_checksum(body)


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu"])
def test_memory_is_flat(rtu):
    run = fuzz.Fuzz(7, rtu=rtu)
    for _ in range(2_000):
        run.step()
    tracemalloc.start()
    try:
        for _ in range(500):
            run.step()
        before, _ = tracemalloc.get_traced_memory()
        for _ in range(4_000):
            run.step()
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # Fewer than eight bytes a frame: nothing is kept for any of them.
    assert after - before < 8 * 4_000


def careless(monkeypatch, **holes):
    """Make the guards careless in one way."""
    module = sys.modules["linewatch.drivers.modbus.mbap"]
    rtu = sys.modules["linewatch.drivers.modbus.rtu"]
    for target in (module, rtu):
        monkeypatch.setattr(target, "judged", holes["judged"])


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu"])
def test_the_second_opinion_catches_a_guard_that_ignores_functions(monkeypatch, rtu):
    def ignores_function(question, pdu):
        return judged(question, bytes([question.function]) + pdu[1:])

    careless(monkeypatch, judged=ignores_function)
    assert fuzz.run(2_000, seed=3, rtu=rtu).wrong


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu"])
def test_the_second_opinion_catches_a_guard_that_ignores_counts(monkeypatch, rtu):
    def ignores_count(question, pdu):
        verdict = judged(question, pdu)
        return Answer(pdu[2:]) if isinstance(verdict, Broken) and pdu[0] < 5 else verdict

    careless(monkeypatch, judged=ignores_count)
    assert fuzz.run(2_000, seed=3, rtu=rtu).wrong


def test_the_second_opinion_catches_a_guard_that_ignores_late_answers(monkeypatch):
    from linewatch.drivers.modbus.guard import Guard

    monkeypatch.setattr(Guard, "is_confusable", lambda *_: False)
    assert fuzz.run(5_000, seed=3, rtu=True).wrong


def test_the_second_opinion_catches_a_guard_that_ignores_ids(monkeypatch):
    from linewatch.drivers.modbus.mbap import MbapGuard

    monkeypatch.setattr(MbapGuard, "_is_ours", lambda *_: True)
    assert fuzz.run(2_000, seed=3, rtu=False).wrong


def test_the_second_opinion_catches_a_guard_that_ignores_checksums(monkeypatch):
    monkeypatch.setattr(sys.modules["linewatch.drivers.modbus.rtu"], "crc", lambda _: AnyTwo())
    assert fuzz.run(2_000, seed=3, rtu=True).wrong


class AnyTwo(bytes):
    """Two bytes that equal any two bytes."""

    def __eq__(self, other):
        return len(other) == 2

    def __hash__(self):
        return 0
