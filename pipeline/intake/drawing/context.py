"""What an element inherits and adds: its map, style, visibility, viewport and clips."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from pipeline.core.errors import Problem
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing import paint
from pipeline.intake.drawing.affine import IDENTITY, Affine, Malformed, parse_transform, shift
from pipeline.intake.drawing.clip import Clip, path_clip, viewport_clip
from pipeline.intake.drawing.source import Node, Source
from pipeline.intake.drawing.style import INHERITED, MEASURES, MOVING, Styles
from pipeline.intake.drawing.units import Axis, Viewport, fit, parse_view_box, user_length

RELEASE = "Cut the shape itself in the drawing program, or release the clip or mask."
PLAIN = "Save it as a plain SVG, with its transformations applied."
_URL = re.compile(r"""url\(\s*["']?#([^"')]*)["']?\s*\).*""", re.DOTALL)
_NO_CLIP = re.compile(r"none|inherit|unset|initial|url\(.*", re.DOTALL)
_COMPUTED = re.compile(r"\b(var|calc|env|attr|min|max|clamp)\(")


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What an element inherits from those around it."""

    ctm: Affine
    viewport: Viewport
    style: dict[str, str] = field(default_factory=dict)
    hidden: str = ""
    faults: tuple[Problem, ...] = ()
    clips: tuple[Clip, ...] = ()
    parent: int = -1
    direct: bool = True
    using: tuple[int, ...] = ()
    depth: int = 0


@dataclass(slots=True)
class Reading:
    """The drawing while it is walked; ``said`` are notes by kind: (kind, detail, place)."""

    source: Source
    styles: Styles
    by_id: dict[str, Node]
    said: list[tuple[str, str, Place]] = field(default_factory=list)

    def say(self, kind: str, detail: str, node: Node) -> None:
        self.said.append((kind, detail, self.source.place(node)))

    def fault(
        self, node: Node, why: str, attribute: str = "", index: int = 0, *, remedy: str = "Mend it in the drawing."
    ) -> Problem:
        """A reason why a shape can't be used, with its place."""
        name = node.id or node.attrs.get(":label", "") or f"<{node.tag}>"
        return Problem(
            wrong=f"The object {quoted(name)} can't be used: {why}.",
            place=self.source.place(node, attribute, index),
            remedy=remedy,
        )

    def get(self, node: Node) -> Callable[[str], str]:
        """Reads a measure of a shape: from its style where CSS gives it, else from its attribute."""
        own = self.styles.of(node)
        return lambda name: (
            own.get(name, node.attrs.get(name, "")) if name in MEASURES else node.attrs.get(name, "")
        )

    def inside(self, node: Node, ctx: Context) -> Context:
        """The context inside an element: its style, map, visibility and clips."""
        own = self.styles.of(node)
        style = dict(ctx.style)
        faults = list(ctx.faults)
        for name in INHERITED:
            value = own.get(name, "inherit")
            if value == "initial":
                style.pop(name, None)
            elif value not in ("inherit", "unset", "revert"):
                style[name] = value
        for name, value in own.items():
            if name in MOVING and value not in ("none", "normal", "1"):
                faults.append(self.fault(node, f"its style property {quoted(name)} isn't read", remedy=PLAIN))
            if _COMPUTED.search(value) and name not in ("filter", "@transform"):
                faults.append(
                    self.fault(node, f"the value {quoted(value)} of its style {quoted(name)} isn't read")
                )
        hidden = ctx.hidden
        if not hidden:
            group = f" of {quoted(node.id or node.attrs.get(':label') or node.tag)}"
            if own.get("display") == "none":
                hidden = f"it is hidden: display{group} is none"
            elif paint.number(own.get("opacity", "1"), 1.0) <= 0:
                hidden = f"it is hidden: opacity{group} is 0"
        ctm = ctx.ctm @ self._transform(node, own, ctx.viewport, faults)
        clips = ctx.clips
        target = self._target(own.get("clip-path", "none"))
        if target is not None and target.tag == "clipPath":
            clip = path_clip(target, ctm, ctx.viewport, lambda n, name: self.get(n)(name))
            clips = (*clips, clip)
        elif target is None and not _NO_CLIP.fullmatch(own.get("clip-path", "none")):
            clips = (*clips, Clip(None, f"the clip {quoted(own['clip-path'])}"))
        if self._target(own.get("mask", "none")) is not None:
            faults.append(
                self.fault(node, "a mask hides part of it, so what is seen isn't its own outline", remedy=RELEASE)
            )
        if own.get("filter", "none") != "none" and not hidden:
            self.say("filter", node.id, node)
        return replace(ctx, ctm=ctm, style=style, hidden=hidden, faults=tuple(faults), clips=clips)

    def _target(self, value: str) -> Node | None:
        found = _URL.fullmatch(value.strip())
        return self.by_id.get(found[1]) if found else None

    def _transform(self, node: Node, own: dict[str, str], port: Viewport, faults: list[Problem]) -> Affine:
        css = own.get("transform")
        text = css if css is not None else own.get("@transform", "")
        if node.parent is None or not text:
            return IDENTITY
        try:
            m = parse_transform(text, css=css is not None)
        except Malformed as fault:
            where = ("transform", fault.index) if css is None else ("style", 0)
            faults.append(self.fault(node, f"in its transform, {fault.wrong}", *where))
            return IDENTITY
        if own.get("transform-box", "view-box") not in ("view-box", "inherit", "initial", "unset"):
            faults.append(self.fault(node, f"its transform-box {quoted(own['transform-box'])} isn't read"))
        if "transform-origin" in own:
            try:
                about = _origin(own["transform-origin"], port)
            except Malformed as fault:
                faults.append(self.fault(node, f"in its transform-origin, {fault.wrong}"))
                return IDENTITY
            m = shift(about.real, about.imag) @ m @ shift(-about.real, -about.imag)
        if not m.sound:
            faults.append(self.fault(node, "its transform flattens it to a line or a point", "transform"))
            return IDENTITY
        return m

    def viewport_of(self, node: Node, ctx: Context, sizes: dict[str, str]) -> Context:
        """The context inside a nested <svg> or <symbol> (SVG 2, struct and coords)."""
        values = []
        measures: tuple[tuple[str, Axis, str], ...] = (
            ("x", "x", "0"),
            ("y", "y", "0"),
            ("width", "x", "100%"),
            ("height", "y", "100%"),
        )
        try:
            for name, axis, missing in measures:
                text = sizes.get(name) or self.get(node)(name) or missing
                values.append(user_length(missing if text == "auto" else text, ctx.viewport, axis))
            x, y, width, height = values
            m, port = shift(x, y), Viewport(width, height)
            view = None
            if node.attrs.get("viewBox", "").strip():
                view = parse_view_box(node.attrs["viewBox"])
        except Malformed as fault:
            return replace(ctx, faults=(*ctx.faults, self.fault(node, f"in its size, {fault.wrong}")))
        if width <= 0 or height <= 0:
            return replace(ctx, hidden=ctx.hidden or f"it is hidden: {quoted(node.id or node.tag)} has no size")
        clips = ctx.clips
        if self.styles.of(node).get("overflow", "hidden") not in ("visible", "auto"):
            clip = viewport_clip(
                width, height, ctx.ctm @ m, f"the edge of {quoted(node.id or '<' + node.tag + '>')}"
            )
            clips = (*clips, clip)
        if view is not None:
            try:
                m = m @ fit(width, height, view, node.attrs.get("preserveAspectRatio", "").strip())
            except Malformed as fault:
                return replace(ctx, faults=(*ctx.faults, self.fault(node, fault.wrong, "preserveAspectRatio")))
            port = Viewport(view[2], view[3])
        return replace(ctx, ctm=ctx.ctm @ m, viewport=port, clips=clips)


def _origin(text: str, port: Viewport) -> complex:
    """A transform-origin in user units. Raises Malformed."""
    words = text.split()
    if len(words) == 1:
        words.append("center")
    if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        words[0], words[1] = words[1], words[0]
    shares = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
    x, y = (shares.get(w, w) for w in words[:2])
    return complex(user_length(x, port, "x"), user_length(y, port, "y"))
