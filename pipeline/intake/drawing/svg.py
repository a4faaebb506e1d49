"""``read_svg``: a file or its bytes to a document in page mm, with what it holds that isn't read."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pipeline.core.errors import Problem, Refused
from pipeline.core.findings import Finding, Severity
from pipeline.core.text import quoted
from pipeline.intake.drawing.context import Context, Reading
from pipeline.intake.drawing.document import Document
from pipeline.intake.drawing.page import Page, read_page
from pipeline.intake.drawing.source import Node, Source, read_source
from pipeline.intake.drawing.stored import stored
from pipeline.intake.drawing.style import Styles
from pipeline.intake.drawing.walk import Walk

_TOLD: Mapping[str, tuple[Severity, str, str]] = {
    "text": ("ask", "text isn't read", "turn it into outlines, or leave it if it is only a remark"),
    "image": ("ask", "pictures aren't read", "trace what matters of it as a path"),
    "foreignObject": ("note", "embedded foreign content isn't read", ""),
    "video": ("note", "embedded video isn't read", ""),
    "canvas": ("note", "embedded canvas isn't read", ""),
    "iframe": ("note", "embedded pages aren't read", ""),
    "use": ("ask", "a copy of something that isn't in the drawing is left out", "paste it into the drawing"),
    "pattern": ("note", "what a pattern shows isn't read; the shape it fills is", ""),
    "dashes": ("note", "a dashed line is read as if it were whole", ""),
    "marker": ("note", "arrow heads and other markers on lines aren't read", ""),
    "filter": ("note", "filter effects (shadow, blur) aren't read", ""),
    "switch": ("note", "of a choice of contents the first that needs nothing special is read", ""),
    "unknown": ("ask", "an element of an unknown kind isn't read", "turn it into a path"),
}
"""What is never dropped in silence: kind → severity, words, remedy."""


def read_svg(path_or_bytes: str | Path | bytes, file_label: str) -> Document:
    """Read a drawing. ``file_label`` is the name that messages use.

    Gives all objects with their curves in page mm, y up, origin at the page's lower left corner. Raises
    Refused for what makes the whole file useless, MachineFailed when the disk fails; faults of single
    objects stay with them (``Shape.faults``).
    """
    source = read_source(stored(path_or_bytes, file_label), file_label)
    page = read_page(source)
    by_id: dict[str, Node] = {}
    styles = Styles()
    for node in source.root.walk():
        if node.id and node.tag:
            by_id.setdefault(node.id, node)
        if node.tag == "style":
            styles.add(node)
    walk = Walk(Reading(source, styles, by_id))
    walk.visit(source.root, Context(ctm=page.to_mm, viewport=page.viewport))
    if walk.problems:
        raise Refused(walk.problems)
    shown = {e.id for e in walk.entries}
    return Document(
        file=file_label,
        page=page.size,
        unit_mm=page.unit_mm,
        sized=page.sized,
        shapes=tuple(walk.shapes),
        entries=tuple(walk.entries),
        undrawn={n: node.tag for n, node in by_id.items() if n not in shown},
        findings=(*_told(walk), *_page_findings(source, page, walk)),
        unit="" if source.root.attrs.get("viewBox", "").strip() else "pixel of 1/96 inch",
    )


def _told(walk: Walk) -> list[Finding]:
    """One finding for each kind of thing that isn't read, with its first few names."""
    found: list[Finding] = []
    for node, what in walk.reading.styles.doubts:
        found.append(
            Finding(
                check="drawing-style",
                severity="ask",
                message=f"The drawing uses {what}, which isn't read; the drawing is read as if it weren't there.",
                remedy="save the drawing as a plain SVG with presentation attributes",
                place=walk.reading.source.place(node),
            )
        )
    for kind, (severity, words, remedy) in _TOLD.items():
        said = [(detail, place) for k, detail, place in walk.reading.said if k == kind]
        if not said:
            continue
        details = [quoted(d) if d else f"line {p.line}" for d, p in said[:5]]
        more = ", …" if len(said) > 5 else ""
        count = "once" if len(said) == 1 else f"{len(said)} times"
        found.append(
            Finding(
                check="drawing-unread",
                severity=severity,
                message=f"In the drawing {words} ({count}: {', '.join(details)}{more}).",
                measured=float(len(said)),
                unit="",
                remedy=remedy,
                place=said[0][1],
            )
        )
    return found


def _page_findings(source: Source, page: Page, walk: Walk) -> list[Finding]:
    found: list[Finding] = []
    if page.size is None:
        return found
    width, height = page.size
    m = page.to_mm
    if abs(m.a) != abs(m.d):
        found.append(
            Finding(
                check="drawing-page",
                severity="ask",
                message="The drawing is stretched by its preserveAspectRatio: "
                f"a unit is {abs(m.a):.6g} mm wide and {abs(m.d):.6g} mm high.",
                measured=abs(m.a / m.d),
                limit=1.0,
                unit="",
                remedy="give the page the proportions of its viewBox",
                place=source.place(source.root, "preserveAspectRatio"),
            )
        )
    outside = []
    for shape in walk.shapes:
        bounds = shape.bounds if shape.painted else None
        if bounds and (bounds[0] > width or bounds[1] > height or bounds[2] < 0 or bounds[3] < 0):
            outside.append(shape)
    if outside:
        first = outside[0].place
        found.append(
            Finding(
                check="drawing-page",
                severity="note",
                message=f"{len(outside)} object{'s lie' if len(outside) > 1 else ' lies'} wholly outside the page "
                f"(the first is {quoted(first.object)}).",
                measured=float(len(outside)),
                unit="",
                remedy="delete what isn't meant",
                place=first,
            )
        )
    return found


def faults_of(doc: Document, index: int) -> list[Problem]:
    """The faults of all shapes of an entry that can be seen."""
    return [f for s in doc.members(index) if not s.hidden for f in s.faults]
