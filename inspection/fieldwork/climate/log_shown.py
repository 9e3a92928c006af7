"""A judged time of a log as pages, the API and the daily report tell it, with its charts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from reportlab.graphics.shapes import Drawing

from inspection.fieldwork.climate.logger_files import SAID, Window, said
from inspection.foundation.series_chart import Level, Series, series_chart
from inspection.projects.models import Coat, Station
from inspection.standards.logged_climate import QUANTITIES, Limit, Share

HOUR_S = 3600
MOST_LISTED = 20
NAMES = {
    "air_c": "air",
    "humidity_pct": "humidity",
    "surface_c": "steel",
    "dew_point_c": "dew point",
    "margin_c": "margin",
}
# By chart, its quantities, and what a limit of it is drawn on.
CHARTS = {
    "temperatures": ("Air, steel and dew point, °C", ("air_c", "surface_c", "dew_point_c")),
    "humidity": ("Relative humidity, %", ("humidity_pct",)),
    "margin": ("Steel above the dew point, °C", ("margin_c",)),
}


@dataclass(frozen=True)
class ShareShown:
    words: str
    share: Share

    @property
    def verdict(self) -> str:
        """`fail` as soon as some time is known to be outside; `not judged` while some is unknown."""
        if self.share.outside_s > 0:
            return "fail"
        return "incomplete" if self.share.unknown_s > 0 else "pass"

    @property
    def verdict_words(self) -> str:
        return {"fail": "Outside for a time", "incomplete": "Not known throughout", "pass": "Within"}[self.verdict]

    @property
    def within_h(self) -> float:
        return self.share.within_s / HOUR_S

    @property
    def outside_h(self) -> float:
        return self.share.outside_s / HOUR_S

    @property
    def unknown_h(self) -> float:
        return self.share.unknown_s / HOUR_S


@dataclass(frozen=True)
class Stretch:
    begins: datetime
    ends: datetime

    @property
    def hours(self) -> float:
        return (self.ends - self.begins).total_seconds() / HOUR_S


@dataclass(frozen=True)
class Shown:
    """What is told of a window: of all limits together and of each, the longest breach, gaps, and what was found."""

    window: Window
    station: Station
    coat: Coat | None

    @property
    def hours(self) -> float:
        return (self.window.ends - self.window.begins).total_seconds() / HOUR_S

    @property
    def all(self) -> ShareShown:
        return ShareShown("All limits together", self.window.judged.all)

    @property
    def each(self) -> list[ShareShown]:
        judged = zip(self.window.limits, self.window.judged.each, strict=True)
        return [ShareShown(said(limit), share) for limit, share in judged]

    @property
    def longest_breach(self) -> Stretch | None:
        found = self.window.judged.longest_breach
        return _stretch(found) if found else None

    @property
    def many_breaches(self) -> int:
        return len(self.window.judged.breaches)

    @property
    def gaps(self) -> list[Stretch]:
        return [_stretch(gap) for gap in self.window.judged.gaps[:MOST_LISTED]]

    @property
    def many_gaps(self) -> int:
        return len(self.window.judged.gaps)

    @property
    def found(self) -> list[tuple[str, Any, datetime]]:
        """By quantity, its mean, least and greatest, and when the least was."""
        rows = ((name, self.window.judged.found.get(name)) for name in QUANTITIES)
        return [(SAID[name], row, datetime.fromtimestamp(row.least_at_s, UTC)) for name, row in rows if row]

    @property
    def charts(self) -> list[tuple[str, str, str]]:
        """The charts that have anything to show: name, title, and what they say in words."""
        return [
            (name, title, self._in_words(quantities))
            for name, (title, quantities) in CHARTS.items()
            if any(quantity in self.window.judged.found for quantity in quantities)
        ]

    def _in_words(self, quantities: tuple[str, ...]) -> str:
        found = self.window.judged.found
        told = [
            f"{NAMES[name]} from {found[name].least:.1f} to {found[name].greatest:.1f}"
            for name in quantities if name in found
        ]  # fmt: skip
        return f"{', '.join(told)}. {self.in_words}"

    @property
    def in_words(self) -> str:
        share = self.window.judged.all
        longest = self.longest_breach
        begin = f"{longest.begins.astimezone(self.station.project.zone):%Y-%m-%d %H:%M}" if longest else ""
        breach = f" Longest breach {longest.hours:.1f} h from {begin}." if longest else ""
        unknown = f" Not known for {share.unknown_s / HOUR_S:.1f} h." if share.unknown_s else ""
        return f"Within all limits {share.within_pct:.0f} % of {self.hours:.1f} h.{breach}{unknown}"


def shown(window: Window, station: Station, coat: Coat | None = None) -> Shown:
    return Shown(window, station, coat)


def _stretch(bounds: tuple[float, float]) -> Stretch:
    return Stretch(*(datetime.fromtimestamp(bound, UTC) for bound in bounds))


def chart_of(told: Shown, which: str, *, narrow: bool = False) -> Drawing:
    """One of `CHARTS` over the window, with its own limits, the breaches of all and the gaps."""
    title, quantities = CHARTS[which]
    window = told.window
    series = [
        Series(NAMES[name], window.log.at_s, window.log.of(name))
        for name in quantities if name in window.judged.found
    ]  # fmt: skip
    drawn = [limit for limit in window.limits if limit.quantity in quantities]
    size = {"width": 330.0, "height": 230.0} if narrow else {"width": 640.0, "height": 240.0}
    return series_chart(
        series, begins=window.begins, ends=window.ends, zone=told.station.project.zone, levels=_levels(drawn),
        breaches=window.judged.breaches, gaps=window.judged.gaps, longest_gap_s=window.gap.total_seconds(),
        title=f"{told.station.code}: {title}", summary="" if narrow else told.in_words, **size,
    )  # fmt: skip


def _levels(limits: list[Limit]) -> list[Level]:
    return [
        Level(limit.value, f"{NAMES[limit.quantity]} {'≥' if limit.is_least else '≤'} {limit.value:g}")
        for limit in limits
    ]
