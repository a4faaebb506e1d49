"""Who cuts: a shop profile and its cutters."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from pipeline.core.fields import Count, Feed, Gap, Minutes, Money, NotNegative, Size, field

_THICKNESS = re.compile(r"[0-9]{1,4}(\.[0-9]{1,6})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """A router bit or end mill, with the dimensions that ISO 13399 names (mm)."""

    DC: Size = field("cutting diameter")
    APMX: Size = field("depth of cut maximum: the length of the cutting edge")
    LU: Size = field("usable length: how deep it reaches below the holder")
    DMM: Size = field("shank diameter")
    RE: Gap = field("corner radius; 0 is a flat end", 0.0)
    NOF: Count = field("number of flutes", 2)
    kind: Literal["end", "drill", "ball"] = field("what it is ground for", "end")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What the shop charges and how fast it works."""

    hour: Money = field("price of a machine hour; 0: not given", 0.0)
    programming: Minutes = field("minutes of programming for a job, once", 0.0)
    set_up: Minutes = field("minutes for one set-up", 20.0)
    load: Minutes | None = field(
        "minutes to take the work off and clamp the next in the same set-up; absent: half a set-up", None
    )
    first: Minutes = field("minutes to gauge the first article, once", 0.0)
    tool_change: Minutes = field("minutes for one tool change", 3.0)
    feed: Feed = field("cutting feed", 2500.0)
    feeds: Mapping[str, Feed] = field(
        "cutting feeds by thickness in mm, where one feed doesn't do: {3: 1500, 6: 660}; evenly between",
        MappingProxyType({}),
    )
    pass_depth: Gap = field("depth of one pass; 0 means the cutter's diameter", 0.0)
    pierce: Minutes = field("minutes for one pierce of a laser", 0.01)
    engrave: Feed | None = field("feed of a laser that engraves or scores; absent: its cutting feed", None)
    pitch: Size = field("from line to line where a laser engraves an area", 0.1)
    rapid: Feed = field("feed from cut to cut", 10000.0)
    acceleration: NotNegative = field("in mm/s²: slows short straight runs; 0: not counted", 0.0)

    def __post_init__(self) -> None:
        for thickness in self.feeds:
            if not _THICKNESS.fullmatch(thickness):
                raise ValueError(f'"{thickness[:40]}" in `feeds` is no thickness in mm, such as 3 or 6.5.')

    @property
    def load_minutes(self) -> float:
        """Changing the work in one set-up: the shop's number, else half a set-up (common practice, no source)."""
        return self.set_up / 2 if self.load is None else self.load

    def feed_at(self, thickness_mm: float) -> float:
        """Cutting feed in mm/min for a thickness: of `feeds` evenly between its entries, at its ends held."""
        known = sorted((float(t), feed) for t, feed in self.feeds.items())
        if not known:
            return self.feed
        below = [k for k in known if k[0] <= thickness_mm] or known[:1]
        above = [k for k in known if k[0] >= thickness_mm] or known[-1:]
        (t0, f0), (t1, f1) = below[-1], above[0]
        return f0 if t1 <= t0 else f0 + (f1 - f0) * (thickness_mm - t0) / (t1 - t0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A shop profile (`configs/shops/*.yaml`). The defaults are the built-in small router."""

    name: str = field("the shop's name; goes into file names", "router")
    process: Literal["router", "laser"] = field("how it cuts", "router")
    bed: tuple[Size, Size] = field("usable bed, x by y", (1300.0, 900.0))
    cutters: tuple[Cutter, ...] = field(
        "the cutters it has",
        (
            Cutter(DC=3.0, APMX=12.0, LU=18.0, DMM=6.0),
            Cutter(DC=6.0, APMX=25.0, LU=30.0, DMM=6.0),
            Cutter(DC=8.0, APMX=32.0, LU=40.0, DMM=8.0),
        ),
    )
    kerf: Gap = field("full width of the cut of a laser", 0.0)
    partial_depth: bool | None = field("can it cut half through? (a router can, a laser can't)", None)
    depth_limit: Gap = field("thickest sheet it cuts; 0 means no limit", 0.0)
    gap: Gap = field("least gap between parts; 0 means the trade's default", 0.0)
    border: Gap = field("least distance to the sheet's edge; 0 means the trade's default", 0.0)
    wants: Literal["pieces", "nests"] = field("one file a piece, or parts nested on sheets", "pieces")
    dxf: Literal["R2010", "R12"] = field("file flavour", "R2010")
    datum: Literal["frame", "corner", "pin"] = field("where zero stands in its files", "frame")
    bridges: Literal["none", "mark", "gap"] = field("holding bridges", "none")
    compensation: Literal["none", "kerf"] = field("what is compensated in the lines", "none")
    layers: Mapping[str, str] = field("their own names for our layers", MappingProxyType({}))
    rates: Rates = field("what it charges", Rates())

    @property
    def half_depth(self) -> bool:
        """True when this shop can cut part of the way through a sheet."""
        return self.process == "router" if self.partial_depth is None else self.partial_depth

    @property
    def part_gap(self) -> float:
        """Least gap between parts in mm: router D + 2, laser 2 (common practice, no source)."""
        if self.gap:
            return self.gap
        return 2.0 if self.process == "laser" else self.profile_cutter.DC + 2.0

    @property
    def sheet_border(self) -> float:
        """Least distance to the sheet's edge in mm: router 12, laser 8 (common practice, no source)."""
        return self.border or (8.0 if self.process == "laser" else 12.0)

    @property
    def end_cutters(self) -> tuple[Cutter, ...]:
        return tuple(sorted((c for c in self.cutters if c.kind == "end"), key=lambda c: c.DC))

    @property
    def profile_cutter(self) -> Cutter:
        """The cutter for outer contours: the largest flat end (the built-in 6 where it has none)."""
        return self.end_cutters[-1] if self.end_cutters else Cutter(DC=6.0, APMX=25.0, LU=30.0, DMM=6.0)
