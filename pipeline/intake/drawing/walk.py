"""Walking the tree: groups, nested viewports, ``use`` and shapes, each with its map, style and visibility."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pipeline.core.errors import Problem, refuse
from pipeline.core.text import quoted
from pipeline.intake.drawing import paint
from pipeline.intake.drawing.affine import Malformed, shift
from pipeline.intake.drawing.coarse import step_of
from pipeline.intake.drawing.context import RELEASE, Context, Reading
from pipeline.intake.drawing.document import Entry, Shape
from pipeline.intake.drawing.recognise import rounding
from pipeline.intake.drawing.segments import Subpath, box
from pipeline.intake.drawing.shapes import SHAPES, Wrong, subpaths
from pipeline.intake.drawing.source import Node
from pipeline.intake.drawing.units import user_length

MAX_COPIES = 20_000
"""Most objects that ``use`` may make; copies of copies multiply."""
MAX_PIECES = 1_500_000
"""Most lines and curves of all objects together."""
FARTHEST_MM = 1e6

GROUPS = ("g", "a", "svg", "switch")
PICTURES = ("text", "image", "foreignObject", "video", "canvas", "iframe")
NEVER_DRAWN = frozenset({
    "defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient", "meshgradient",
    "hatch", "filter", "metadata", "title", "desc", "style", "script", "view", "animate", "animateTransform",
    "animateMotion", "set", "mpath", "cursor", "font", "font-face", "color-profile", "solidcolor", "solidColor",
    "discard",
})  # fmt: skip


@dataclass(slots=True)
class Walk:
    """Collects entries and shapes."""

    reading: Reading
    shapes: list[Shape] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    pieces: int = 0
    copies: int = 0

    def visit(self, node: Node, ctx: Context) -> None:
        """Read one element that is to be drawn, and all below it."""
        if node.tag in NEVER_DRAWN or not node.tag:
            return
        self.copies += not ctx.direct
        if self.copies > MAX_COPIES or ctx.depth > 200:
            raise refuse(
                f"The drawing makes more than {MAX_COPIES} copies with <use>, or nests them more than 200 deep.",
                place=self.reading.source.place(node),
                remedy="Draw copies as plain objects, and fewer of them.",
            )
        ctx = self.reading.inside(node, ctx)
        index = len(self.entries)
        labels = [node.attrs[k].strip() for k in (":label", "label", "data-name") if node.attrs.get(k, "").strip()]
        entry = Entry(
            index=index,
            parent=ctx.parent,
            kind=node.tag,
            id=node.id,
            labels=tuple(dict.fromkeys(labels)),
            direct=ctx.direct,
            node=node.offset,
            place=self.reading.source.place(node),
            hidden=ctx.hidden,
        )
        self.entries.append(entry)
        inner = replace(ctx, parent=index, depth=ctx.depth + 1)
        if node.tag in GROUPS:
            if node.tag == "svg" and node.parent is not None:
                inner = self.reading.viewport_of(node, inner, {})
            for child in self._chosen(node):
                self.visit(child, inner)
        elif node.tag == "use":
            self._use(node, inner)
        elif node.tag in SHAPES:
            self._shape(node, inner)
        elif node.tag in PICTURES:
            words = node.words()[:40] if node.tag == "text" else ""
            wrong = {"text": "is text", "image": "is a picture"}.get(node.tag, f"is a <{node.tag}>")
            remedy = "Turn the text into outlines." if node.tag == "text" else "Draw it as a path."
            self._add(
                node, inner, (), (self.reading.fault(node, f"it {wrong}, which has no outline", remedy=remedy),)
            )
            if not ctx.hidden:
                self.reading.say(node.tag, words or node.id, node)
        else:
            self.reading.say("unknown", node.tag, node)

    # -- helpers ---------------------------------------------------------------------------------
    def _chosen(self, node: Node) -> list[Node]:
        """The children to draw: all, or the first that a <switch> lets through."""
        if node.tag != "switch":
            return node.children
        fitting = [
            c
            for c in node.children
            if c.tag and c.tag not in NEVER_DRAWN and c.tag != "foreignObject"
            and not c.attrs.get("requiredExtensions") and "systemLanguage" not in c.attrs
        ]  # fmt: skip
        self.reading.say("switch", node.id, node)
        return fitting[:1]

    # -- kinds -----------------------------------------------------------------------------------
    def _use(self, node: Node, ctx: Context) -> None:
        href = node.attrs.get("href", "").strip()
        target = self.reading.by_id.get(href[1:]) if href.startswith("#") else None
        if target is None:
            why = "stands in another file, which is never fetched" if not href.startswith("#") else "doesn't exist"
            self._add(
                node,
                ctx,
                (),
                (self.reading.fault(node, f"it draws a copy of {quoted(href)}, which {why}", "href"),),
            )
            self.reading.say("use", href[:60], node)
            return
        if target.offset in ctx.using or any(target is up for up in _around(node)):
            self.problems.append(
                Problem(
                    wrong=f"{quoted(target.id)} contains a copy of itself, so the drawing never ends.",
                    place=self.reading.source.place(node),
                    remedy="Remove this <use> or point it at something else.",
                )
            )
            return
        try:
            x = user_length(node.attrs.get("x", "0") or "0", ctx.viewport, "x")
            y = user_length(node.attrs.get("y", "0") or "0", ctx.viewport, "y")
        except Malformed as fault:
            self._add(node, ctx, (), (self.reading.fault(node, fault.wrong, "x"),))
            return
        inner = replace(
            ctx, ctm=ctx.ctm @ shift(x, y), direct=False, using=(*ctx.using, target.offset), depth=ctx.depth + 1
        )
        sizes = {k: node.attrs[k] for k in ("width", "height") if node.attrs.get(k, "auto") != "auto"}
        if target.tag == "symbol":
            inner = self.reading.viewport_of(target, self.reading.inside(target, inner), sizes)
            if target.attrs.get("refX", "0").strip() not in ("", "0") or target.attrs.get("refY", "0") not in (
                "",
                "0",
            ):
                inner = replace(
                    inner, faults=(*inner.faults, self.reading.fault(target, "its refX and refY aren't read"))
                )
            for child in target.children:
                self.visit(child, inner)
        elif target.tag == "svg":
            inner = self.reading.viewport_of(target, self.reading.inside(target, inner), sizes)
            for child in target.children:
                self.visit(child, inner)
        else:
            self.visit(target, inner)

    def _shape(self, node: Node, ctx: Context) -> None:
        faults: tuple[Problem, ...] = ()
        found: tuple[Subpath, ...] = ()
        rounded_mm = 0.0
        try:
            if not ctx.ctm.sound:
                raise Wrong("transform", "the transformations round it flatten it, or throw it out of reach")
            if "d" in self.reading.styles.of(node):
                raise Wrong("style", "its path data stands in a style, which isn't read")
            drawn = subpaths(node.tag, self.reading.get(node), ctx.viewport)
            found, rounded_mm = tuple(s.mapped(ctx.ctm) for s in drawn), rounding(drawn) * ctx.ctm.size
        except Wrong as fault:
            faults = (self.reading.fault(node, fault.wrong, fault.attribute, fault.index),)
        bounds = box(found)
        if bounds and not max(abs(v) for v in bounds) <= FARTHEST_MM:
            faults, found = (self.reading.fault(node, "it lies more than a kilometre away"),), ()
        elif bounds:
            faults = tuple(
                self.reading.fault(
                    node, f"{clip.what} cuts part of it off, so what is seen isn't its own outline", remedy=RELEASE
                )
                for clip in ctx.clips
                if not clip.spares(bounds)
            )
        self.pieces += sum(len(p.segments) for p in found)
        if self.pieces > MAX_PIECES:
            raise refuse(
                f"The drawing has more than {MAX_PIECES} lines and curves.",
                place=self.reading.source.place(node),
                remedy="Take out what isn't needed; draw curves as curves, not as many short lines.",
            )
        step_mm = step_of(node.attrs.get("d", "") or node.attrs.get("points", "")) * ctx.ctm.size if found else 0.0
        self._add(node, ctx, found, faults, bounds, rounded_mm, step_mm)

    def _add(
        self,
        node: Node,
        ctx: Context,
        found: tuple[Subpath, ...],
        faults: tuple[Problem, ...],
        bounds: tuple[float, float, float, float] | None = None,
        rounded_mm: float = 0.0,
        step_mm: float = 0.0,
    ) -> None:
        def lookup(name: str) -> str:
            target = self.reading.by_id.get(name)
            return target.tag if target is not None else ""

        style = ctx.style
        line = node.tag == "line"  # a line has no inside, whatever its fill
        filled = paint.filled(style, lookup) and not line
        stroked = paint.stroked(style, lookup)
        hidden = ctx.hidden
        if not hidden and style.get("visibility", "visible") in ("hidden", "collapse"):
            hidden = "it is hidden: its visibility is hidden"
        if found and not hidden:
            if any(paint.pattern_of(style.get(k, ""), lookup) for k in ("fill", "stroke")):
                self.reading.say("pattern", node.id, node)
            if stroked and style.get("stroke-dasharray", "none") not in ("none", "", "0"):
                self.reading.say("dashes", node.id, node)
            if stroked and any(style.get(f"marker-{k}", "none") != "none" for k in ("start", "mid", "end")):
                self.reading.say("marker", node.id, node)
        self.shapes.append(
            Shape(
                number=len(self.shapes) + 1,
                kind=node.tag,
                entry=ctx.parent,
                subpaths=found,
                bounds=bounds,
                filled=filled,
                stroked=stroked,
                even_odd=style.get("fill-rule", "nonzero") == "evenodd",
                hidden=hidden,
                faults=(*ctx.faults, *faults),
                place=self.reading.source.place(node),
                rounded_mm=rounded_mm,
                step_mm=step_mm,
            )
        )


def _around(node: Node) -> list[Node]:
    found, up = [], node.parent
    while up is not None:
        found.append(up)
        up = up.parent
    return found
