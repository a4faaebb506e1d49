"""Sixty synthetic photographs of known outlines, traced: `python -m tests.bench.trace [count] [first]`.

Each is rendered (`tests/trace/photos.py`: aslant by up to 35°, 3 to 8 px/mm, blur, noise, vignetting, shadows, paper's
texture, every third with the ring of a cup), laid flat, traced, and the outline compared with the truth both ways.
`python -m tests.bench.trace speed` traces one of 24 megapixels and tells time and memory.

The photographs are laid flat by the homography that they were made with: what is measured here is edges and curves,
without the calibration.
"""

from __future__ import annotations

import math
import resource
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.geometry.contour import Floats
from pipeline.geometry.region import Region
from pipeline.trace.curves import traced
from pipeline.trace.edges import found
from pipeline.trace.values import Seek
from tests.trace.photos import Kind, flat_by_truth, photograph
from tests.trace.shapes import SHAPES, between

COUNT = 60
KINDS: tuple[Kind, ...] = ("line", "filled", "line", "paper", "line", "foam")
HEAD = (
    "  no shape   kind   px/mm tilt blur noise |  median    95 %     max  stated cover  scale nodes/true corners"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class One:
    """What came of one photograph; ``far`` are the distances between outline and truth, mm."""

    px_per_mm: float
    far: Floats
    covered: float
    scale: float
    nodes: float
    corner: float


def taken(k: int) -> tuple[str, Kind, dict[str, Any]]:
    """Shape, kind and conditions of photograph k."""
    rng = np.random.default_rng(1000 + k)
    name = sorted(SHAPES)[k % len(SHAPES)]
    how = {
        "tilt_deg": float(rng.uniform(0, 35)),
        "azimuth_deg": float(rng.uniform(0, 360)),
        "roll_deg": float(rng.uniform(-15, 15)),
        "px_per_mm": (3.0, 4.0, 5.0, 5.0, 6.0, 8.0)[(k // 5) % 6],
        "blur": float(rng.uniform(0.5, 1.6)),
        "noise": float(rng.uniform(0.005, 0.03)),
        "vignette": float(rng.uniform(0, 0.4)),
        "shadow": float(rng.choice([0.0, 0.2, 0.35, 0.45])),
        "texture": float(rng.uniform(0.005, 0.03)),
        "line_mm": float(rng.uniform(0.4, 0.9)),
        "stain": k % 3 == 0,
        "seed": k,
    }
    return name, KINDS[k % len(KINDS)], how


def one(k: int) -> One | None:
    """Photograph k traced; None, with a line told, where no outline is found."""
    name, kind, how = taken(k)
    shape, entities = SHAPES[name]()
    flat = flat_by_truth(*photograph(shape, kind=kind, **how))
    what = found(flat, Seek(kind=kind))
    label = (
        f"{k:4d} {name:7s} {kind:6s} {how['px_per_mm']:5.0f} {how['tilt_deg']:4.0f} "
        f"{how['blur']:4.1f} {how['noise']:5.3f} |"
    )
    if what.problem:
        print(label, what.problem)
        return None
    made = traced(what.edges, Seek(kind=kind))
    far = between(made.parts, shape)
    corner = _corners(made.corners, shape)
    result = One(
        px_per_mm=how["px_per_mm"],
        far=far,
        covered=float((far <= made.plus_minus_mm).mean()),
        scale=math.sqrt(made.parts.area / shape.area) - 1,
        nodes=made.nodes / entities,
        corner=corner,
    )
    print(
        f"{label} {np.median(far):7.4f} {np.percentile(far, 95):7.4f} {far.max():7.4f} {made.plus_minus_mm:7.3f} "
        f"{100 * result.covered:4.0f}% {100 * result.scale:+6.3f}% {made.nodes:3d}/{entities:<3d} {corner:.3f}",
        flush=True,
    )
    return result


def _corners(corners: Sequence[tuple[float, float]], shape: Region) -> float:
    """How far a true corner (a turn of more than 12°) lies from the nearest corner found, at most; 0 without any."""
    worst = 0.0
    for c in shape.contours:
        leaves, arrives = c.tangents()
        came = np.roll(arrives, 1, axis=0)
        turn = np.abs(
            np.arctan2(came[:, 0] * leaves[:, 1] - came[:, 1] * leaves[:, 0], (came * leaves).sum(axis=1))
        )
        for x, y in c.xy[turn > math.radians(12)].tolist():
            worst = max(worst, min((math.dist((x, y), p) for p in corners), default=math.inf))
    return worst


def table(count: int, first: int = 0) -> None:
    print(HEAD)
    done = [r for k in range(first, first + count) if (r := one(k)) is not None]
    for low, high in ((0, 4.5), (4.5, 5.5), (5.5, 99)):
        mine = [r for r in done if low < r.px_per_mm <= high]
        if mine:
            far = np.concatenate([r.far for r in mine])
            print(
                f"{low:g} to {high:g} px/mm, {len(mine)} photographs: median {np.median(far):.4f} mm, "
                f"95 % {np.percentile(far, 95):.4f} mm, worst {far.max():.3f} mm, worst photograph's median "
                f"{max(float(np.median(r.far)) for r in mine):.4f} mm and 95 % "
                f"{max(float(np.percentile(r.far, 95)) for r in mine):.4f} mm"
            )
    if done:
        covered = [r.covered for r in done]
        print(
            f"{len(done)} of {count} traced; stated uncertainty covers {100 * float(np.mean(covered)):.1f} % of the "
            f"edge (least {100 * min(covered):.0f} %); scale error {100 * max(abs(r.scale) for r in done):.4f} % at "
            f"most; nodes up to {max(r.nodes for r in done):.2f} times the truth's (mean "
            f"{float(np.mean([r.nodes for r in done])):.2f}); corners within {max(r.corner for r in done):.3f} mm"
        )


def speed() -> None:
    """A photograph of 24 megapixels: 6000 × 4000 at 8 px/mm."""
    shape, _ = SHAPES["board"]()
    picture, truth = photograph(
        shape, kind="line", px_per_mm=8, area=(-117.0, -120.0, 633.0, 380.0), texture=0.02, noise=0.015, shadow=0.3
    )
    flat = flat_by_truth(picture, truth)
    del picture
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for _ in range(2):
        started, used = time.perf_counter(), time.process_time()
        what = found(flat, Seek(kind="line"))
        middle = time.perf_counter()
        traced(what.edges, Seek(kind="line"))
        done = time.perf_counter()
        print(
            f"{flat.grey.size / 1e6:.0f} megapixels: edges {middle - started:.2f} s, curves {done - middle:.2f} s "
            f"(processor {time.process_time() - used:.2f} s); most memory "
            f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB, {before:.0f} MB of it to make "
            "and lay flat the photograph"
        )


if __name__ == "__main__":
    if sys.argv[1:] == ["speed"]:
        speed()
    else:
        table(*[int(a) for a in (sys.argv[1:] or [str(COUNT)])])
