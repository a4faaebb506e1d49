"""A bevel: plane with a straight inner line and a varying drop, or even with a parallel one (trade.md 4.2)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from pipeline.core.fields import FaceName
from pipeline.geometry.alongside import Interval, inner_lines, without
from pipeline.geometry.boolean import difference, intersection
from pipeline.geometry.contour import Contour, Floats, line_chain
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.geometry.rounding import bevel_angle, curvature, fading
from pipeline.steps.common import mm
from pipeline.steps.edge import Bevel, Treatment
from pipeline.steps.edge_ground import Ground, Stretch, Told, finding, stretch_rows
from pipeline.steps.edge_slice import Slice, by_line, cut_height, half_plane, rim_of, skins, sliced
from pipeline.steps.offset_make import inner_radius
from pipeline.steps.values import EdgeRun, Op

STRIP_MM = 10.0
"""Distance between the rows of a drop table."""


def make_bevel(g: Ground, face: FaceName, number: int, t: Treatment, found: tuple[Stretch, ...]) -> Told:
    """One bevel: its runs with inner lines, the drop along the edge, and the skin it leaves over cavities."""
    b = t.bevel
    assert b is not None
    if b.shape == "plane":
        return _plane(g, face, number, t, b, found)
    return _even(g, face, number, t, b, found)


# -- plane ---------------------------------------------------------------------------------------
def _plane(g: Ground, face: FaceName, number: int, t: Treatment, b: Bevel, found: tuple[Stretch, ...]) -> Told:
    s = found[0]
    cut = by_line(g, face, number, b) if b.line is not None else sliced(g, face, number, s, b.run or 0.0)
    rim = next(r for r in g.rims if r is s.rim) if b.line is None else rim_of(g, cut)
    run = cut.top - cut.height
    slope = b.drop / run
    skipped = tuple((n, i) for n, i in s.skipped if s.rim is rim)
    runs = without([cut.interval], [i for _, i in skipped], rim.length)
    here = Stretch(rim=rim, asked=(cut.interval,), skipped=skipped, runs=runs)
    ends = [rim.point(v) for v in cut.interval]
    line = line_chain(ends, closed=False)

    def drop(at: Floats) -> Floats:
        down: Floats = np.maximum(cut.beyond(rim.at(at)[0]), 0.0) * slope
        return down

    def lowered(points: Floats) -> Floats:
        down: Floats = np.maximum(cut.beyond(points), 0.0) * slope
        return down

    row = {
        "face": face,
        "kind": "bevel",
        "shape": "plane",
        "run_mm": run,
        "drop_mm": b.drop,
        "angle_deg": bevel_angle(run, b.drop),
        "line_at_mm": [list(p) for p in ends],
        **stretch_rows([here]),
        "drop_strip_mm": [[v, float(d)] for i in runs for v, d in _strip(i, drop)],
        **_plane_removed(g, face, cut, slope),
    }
    message = (
        f"{g.step.name}: a plane bevel on the {face} edge, {mm(run)} wide and {mm(b.drop)} down at its widest "
        f"({bevel_angle(run, b.drop):.1f}°), from {cut.interval[0]:.1f} to {cut.interval[1]:.1f} mm along the "
        "edge; "
        "its inner line is straight, its drop varies."
    )
    return _told(g, face, number, t, b, here, (line,), row, message, cut.area, lowered)


def _plane_removed(g: Ground, face: FaceName, cut: Slice, slope: float) -> dict[str, Any]:
    """Volume below a plane over the area cut off, exactly: slope times the area's moment about the inner line."""

    def moment(height: float) -> float:
        area = intersection(cut.area, half_plane(g.solid, cut.out, height)) if height > cut.height else cut.area
        if not area:
            return 0.0
        return area.area * float(cut_height(area, cut.out) - height)

    volume = slope * moment(cut.height)
    mass = 0.0
    for span, density in g.layers:
        top, low = (g.total - span.z1, g.total - span.z0) if face == "front" else (span.z0, span.z1)
        deep = slope * (cut.top - cut.height)
        if top < deep:
            upper = moment(cut.height + max(top, 0.0) / slope)
            lower = moment(cut.height + low / slope) if low < deep else 0.0
            mass += density * 1e-6 * slope * (upper - lower)
    return {"removed_mm3": volume, "removed_g": mass if g.layers else None, "removed_exact": True}


# -- even ------------------------------------------------------------------------------------------
def _even(g: Ground, face: FaceName, number: int, t: Treatment, b: Bevel, found: tuple[Stretch, ...]) -> Told:
    run = b.run or 0.0
    s = found[0]
    inside = offset(g.solid, -run)
    lines = tuple(c for i in s.runs for c in inner_lines(s.rim, inside, run, i))
    round_ = bool(s.runs) and s.runs[0][1] - s.runs[0][0] >= s.rim.length - 1e-6

    def share(at: Floats, i: Interval) -> Floats:
        if round_:
            return np.ones(len(at))
        return fading(at - i[0], i[1] - i[0], b.fade)

    def drop(at: Floats) -> Floats:
        down = np.zeros(len(at))
        for i in s.runs:
            for lap in (0.0, s.rim.length):
                mine = (at + lap >= i[0] - 1e-9) & (at + lap <= i[1] + 1e-9)
                down[mine] = b.drop * share(at[mine] + lap, i)
        return down

    def lowered(points: Floats) -> Floats:
        spots = [s.rim.locate(float(x), float(y)) for x, y in points]
        at, away = (np.array([v[k] for v in spots]) for k in (0, 1))
        down: Floats = drop(at) * np.clip(1 - away / run, 0.0, 1.0)
        return down

    long = sum(i[1] - i[0] for i in s.runs)
    full = sum(i[1] - i[0] - (0.0 if round_ else min(b.fade, (i[1] - i[0]) / 2)) for i in s.runs)
    bend = sum(curvature(s.rim.stretch(i)) for i in s.runs)
    volume = b.drop * (full * run / 2 - bend * (full / long if long else 0.0) * run * run / 3)
    row = {
        "face": face,
        "kind": "bevel",
        "shape": "even",
        "run_mm": run,
        "drop_mm": b.drop,
        "angle_deg": bevel_angle(run, b.drop),
        "fade_mm": b.fade,
        **stretch_rows([s]),
        "drop_strip_mm": [
            [v, float(d)] for i in s.runs for v, d in _strip(i, lambda at, i=i: b.drop * share(at, i))
        ],
        "removed_mm3": volume,
        "removed_exact": b.fade == 0.0 and bool(lines) and bend == 0.0,
    }
    message = (
        f"{g.step.name}: a bevel on the {face} edge, {mm(run)} wide everywhere and {mm(b.drop)} down "
        f"({bevel_angle(run, b.drop):.1f}°) along {long:.0f} mm"
        + (f", its drop beginning and ending over {mm(b.fade)}" if b.fade and not round_ else "")
        + "; its inner line is parallel to the outline."
    )
    band = difference(g.solid, inside) if inside else g.solid
    told = _told(g, face, number, t, b, s, lines, row, message, band, lowered)
    if inside:
        return told
    most = inner_radius(g.solid)
    wide = finding(
        g, face, number, "bevel.run",
        check="edge-wide",
        severity="stop",
        message=f"A bevel {mm(run)} wide leaves nothing of the {face} face of {g.step.name}.",
        at=s.rim.point(0.0),
        measured=run,
        limit=most,
        remedy=f"make it less than {mm(most)} wide, the radius of the largest circle inside the outline",
    )  # fmt: skip
    return replace(told, findings=(*told.findings, wide))


# -- both ------------------------------------------------------------------------------------------
def _strip(interval: Interval, drop: Any) -> list[tuple[float, float]]:
    """(arc length, drop) rows every STRIP_MM and at both ends: the edge unrolled."""
    a, b = interval
    at = np.append(np.arange(a, b - 1e-6, STRIP_MM), b)
    return list(zip(at.tolist(), drop(at).tolist(), strict=True))


def _told(
    g: Ground,
    face: FaceName,
    number: int,
    t: Treatment,
    b: Bevel,
    s: Stretch,
    lines: tuple[Contour, ...],
    row: dict[str, Any],
    message: str,
    area: Region,
    lowered: Any,
) -> Told:
    found = skins(g, face, number, "bevel.skin", "bevel", b.skin, area, lowered)
    runs = tuple(
        EdgeRun(
            face=face,
            kind="bevel",
            size_mm=b.drop,
            edge=s.rim.stretch(i),
            lines=lines if n == 0 else (),
            from_mm=i[0],
            to_mm=i[1],
        )
        for n, i in enumerate(s.runs)
    )
    ops = (Op(work="CARVE_LINE", face=face, contours=lines, step=g.step.name),) if lines else ()
    return Told(
        face=face,
        treatment=t,
        stretches=(s,),
        runs=runs,
        row={**row, "skins": [{"step": n, "skin_mm": v, "at_mm": list(at)} for n, v, at, _ in found]},
        ops=ops,
        findings=tuple(f for *_, f in found if f is not None),
        reports=(message,),
    )
