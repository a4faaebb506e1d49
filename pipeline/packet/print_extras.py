"""What is printed beside the outline when it is asked for: edge strip, glue-line contours, gauges, hand, leg."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.errors import refuse
from pipeline.geometry.boolean import union
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule, circle, rectangle
from pipeline.geometry.transform import shift
from pipeline.packet.print_contours import contour_scenes
from pipeline.packet.print_how import How
from pipeline.packet.print_loose import Text, Thing, loose_pdf, room_of
from pipeline.packet.print_scene import Scene, Stroke, printed_outlines
from pipeline.packet.print_strip import strip_things, thickness_of
from pipeline.packet.shop_sheet_ink import CAPITAL, LETTER_MM
from pipeline.packet.tiles import paper_named
from pipeline.steps.values import Derived, Piece

HAND_MM = (190.0, 85.0)
"""Length and breadth of a hand (trade.md 11)."""
THIGH_MM = 160.0
"""A thigh of 503 mm round (common practice, no source)."""


def extra_scenes(derived: Derived, how: How) -> Iterator[tuple[str, Scene]]:
    """(word for the file name, scene) of the extras that are tiled like the outline. Raises Refused."""
    if "contours" not in how.also:
        return
    found = tuple(contour_scenes(derived))
    if not found and not how.if_any:
        raise refuse(
            f"{derived.recipe.design} has no stack and no carved shape, so it has no glue lines to print.",
            remedy="leave `contours` away",
        )
    for scene in found:
        yield "contours", scene


def loose_prints(derived: Derived, how: How) -> Iterator[tuple[str, str, bytes]]:
    """(word, what stands before it in the file name, PDF) of the extras that are cut out. Raises Refused."""
    paper = paper_named(how.paper.split(",")[0]).name
    if "strip" in how.also:
        for name in printed_outlines(derived):
            if how.if_any and thickness_of(derived, name, how) is None:
                continue
            things = strip_things(derived, name, how, room_of(how)[0])
            yield "_strip", f"{name}_{paper}", loose_pdf(derived, f"{name}, the edge to wrap round", things, how)
    if "gauges" in how.also:
        gauges = [_gauge(p) for p in derived.pieces if p.role == "gauge"]
        if not gauges and not how.if_any:
            raise refuse(f"{derived.recipe.design} has no gauges.", remedy="leave `gauges` away")
        if gauges:
            yield "_gauges", paper, loose_pdf(derived, "all gauges", gauges, how)
    for extra, thing in (("hand", _hand()), ("leg", _leg())):
        if extra in how.also:
            yield f"_{extra}", paper, loose_pdf(derived, f"{thing.name}, for size", [thing], how)


def _gauge(piece: Piece) -> Thing:
    """A gauge as it is cut, with the words that are engraved in it."""
    x0, y0, x1, y1 = piece.region.bounds
    move = shift(-x0, -y0)
    return Thing(
        name=piece.name,
        size=(x1 - x0, y1 - y0),
        strokes=tuple(Stroke(style="edge", contour=move.contour(c)) for c in piece.region.contours),
        words=tuple(
            Text(
                text=label.text,
                x=label.at[0] - x0,
                y=label.at[1] - y0 - (label.height_mm / 2 if label.centred else 0.0),
                size=label.height_mm / CAPITAL,
                turn_deg=label.turn_deg,
                centred=label.centred,
            )
            for s in piece.set_ups
            for label in s.labels
        ),
    )


def _hand() -> Thing:
    """The palm with four fingers side by side, as long and as broad as a hand; the thumb is left away."""
    long, broad = HAND_MM
    wide = (broad - 9.0) / 4
    tips = (long - 18.0, long, long - 12.0, long - 42.0)
    fingers = [
        solid(capsule((x, 60.0), (x, tip - wide / 2), wide))
        for x, tip in zip((wide / 2 + k * (wide + 3.0) for k in range(4)), tips, strict=True)
    ]
    palm = solid(rectangle(broad, 105.0, 26.0, x=broad / 2, y=52.5))
    return _shape("hand", union(palm, *fingers), f"hand, {long:.0f} x {broad:.0f} mm", 40.0)


def _leg() -> Thing:
    r = THIGH_MM / 2
    return _shape("leg", solid(circle(r, r, r)), f"leg, {THIGH_MM:.0f} mm across", r)


def _shape(name: str, region: Region, words: str, y: float) -> Thing:
    x0, y0, x1, y1 = region.bounds
    move = shift(-x0, -y0)
    return Thing(
        name=name,
        size=(x1 - x0, y1 - y0),
        strokes=tuple(Stroke(style="edge", contour=move.contour(c)) for c in region.contours),
        words=(Text(text=words, x=(x1 - x0) / 2, y=y - LETTER_MM / 2, centred=True),),
    )
