"""Devices and their tags: what the core plans and what the drivers read."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.config.addresses import check_read, wire_address
from linewatch.config.faults import shown
from linewatch.config.links import DevicePoll, TagRead
from linewatch.config.quantities import difference, quantity
from linewatch.config.windows import LIMITS
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.plan import TagPlan, Window
from linewatch.core.readings import Layout

if TYPE_CHECKING:
    from linewatch.config.faults import Faults
    from linewatch.config.model import DeviceSection, LinkSection, TagSection

NS = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Subjects:
    """What a tag may tell something about."""

    ids: Collection[str]
    windows: Mapping[tuple[str, str], Window]
    """By subject and kind (with suffix)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """One tag, for the core and for its driver."""

    plan: TagPlan
    read: TagRead


def period_ns(device: DeviceSection, tag: TagSection) -> int:
    """Return how often a tag is read [ns of line time]."""
    return round((tag.period if tag.period is not None else device.period) * NS)


def tag_of(
    device: DeviceSection,
    tag: TagSection,
    link: LinkSection | None,
    window: Window,
    faults: Faults,
) -> Tag | None:
    """Return one tag; None if its kind is unknown."""
    key = f"device.{device.id}.tag.{tag.measures}"
    subject, _, rest = tag.measures.partition(".")
    kind = rest.split(".", 1)[0]
    measurement = MEASUREMENTS.get(kind)
    if measurement is None:
        faults.unknown(f"{key}.measures", "measurement", kind, MEASUREMENTS)
        return None
    check_read(device, tag, link, key, faults)
    low = quantity(tag.low, measurement.unit, f"{key}.low", faults)
    high = quantity(tag.high, measurement.unit, f"{key}.high", faults)
    low = measurement.low if low is None else low
    high = measurement.high if high is None else high
    if not low < high:
        faults.add(f"{key}.low", f"low {low:g} is not below high {high:g}", "let them rise")
    else:
        _check_reach(window, low, high, key, faults)
    absolute = difference(tag.class_absolute, measurement.unit, f"{key}.class_absolute", faults)
    period = period_ns(device, tag)
    return Tag(
        plan=TagPlan(
            id=tag.measures,
            subject=subject,
            kind=kind,
            low=low,
            high=high,
            period_ns=period,
            stale_after_ns=round(period * measurement.stale_after_periods),
            window=window,
            class_ratio=(tag.class_ratio or 0.0) / 100.0,
            class_absolute=absolute or 0.0,
            as_found_ratio=(tag.as_found or 0.0) / 100.0,
        ),
        read=TagRead(
            tag=tag.measures,
            unit=measurement.unit,
            low=low,
            high=high,
            period_ns=period,
            read=tag.read,
            address=wire_address(device, tag.read),
        ),
    )


def _check_reach(window: Window, low: float, high: float, key: str, faults: Faults) -> None:
    """Refuse a limit that the tag can never reach: a value beyond is no value, no alarm."""
    for name in LIMITS:
        limit = getattr(window, name)
        if limit is not None and not low <= limit <= high:
            faults.add(
                key,
                f"{name} {limit:g} of its window is beyond what it reads, {low:g} to {high:g}",
                "widen the tag's `low` and `high`, or correct the window",
            )


def poll_of(device: DeviceSection, tags: tuple[TagRead, ...]) -> DevicePoll:
    """Return a device with its tags, one layout for each distinct period."""
    periods = dict.fromkeys(tag.period_ns for tag in tags)
    return DevicePoll(
        device=device,
        tags=tags,
        layouts=tuple(
            Layout(
                link=device.link,
                device=device.id,
                tags=tuple(tag.tag for tag in tags if tag.period_ns == period),
                period_ns=period,
            )
            for period in periods
        ),
    )


def check_doubled(devices: tuple[DeviceSection, ...], faults: Faults) -> None:
    """Refuse a tag that is measured twice, naming both devices."""
    first: dict[str, str] = {}
    for device in devices:
        for tag in device.tag:
            if tag.measures in first:
                where = first[tag.measures]
                also = "the same device" if where == device.id else f"device {shown(where)}"
                faults.add(
                    f"device.{device.id}.tag.{tag.measures}",
                    f"measured by {also} already",
                    f'tell twins apart: measures = "{tag.measures}.second"',
                )
            first.setdefault(tag.measures, device.id)
