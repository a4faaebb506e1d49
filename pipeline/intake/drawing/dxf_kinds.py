"""What a DXF file can hold that isn't read, and what is read in a way that must be told."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.core.findings import Severity

TOLD: Mapping[str, tuple[Severity, str, str]] = {
    "text": ("ask", "text isn't read", "turn it into outlines, or leave it if it is only a remark"),
    "hatch": ("ask", "hatches aren't read", "draw the line round what is hatched as a polyline"),
    "patch": ("ask", "filled patches (SOLID, TRACE) aren't read", "draw the line round them as a polyline"),
    "picture": ("ask", "pictures aren't read", "trace what matters of it as a polyline"),
    "dimension": ("note", "dimensions and leaders aren't read", ""),
    "space": ("ask", "solids, surfaces and meshes aren't read", "draw their outline as a polyline"),
    "endless": ("note", "endless construction lines aren't read", ""),
    "table": ("ask", "tables, symbols and multiple lines aren't read", "break them up into lines"),
    "unknown": ("ask", "objects of an unknown kind aren't read", "break them up into lines, arcs and polylines"),
    "insert": ("ask", "a block that isn't in the drawing is left out", "bring it into the drawing"),
    "paper": ("note", "what stands on a paper layout isn't read", ""),
    "point": ("note", "points are read as marks only", ""),
    "no length": ("note", "objects without any length are left out", ""),
    "height": ("note", "objects lie above or below zero; they are read as seen from above", ""),
    "thick": ("note", "objects have a thickness; they are read as seen from above", ""),
    "wide": ("note", "lines drawn with a width are read by their middle", ""),
    "fitted": ("note", "a fitted polyline is read by the points that its program fitted", ""),
    "dashes": ("note", "a dashed line is read as if it were whole", ""),
    "through points": (
        "ask",
        "a spline is given only by points that it goes through, so its shape between them is a choice: "
        "read with continuous curvature",
        "save it with its control points",
    ),
}
"""What is never dropped in silence: kind → severity, words, remedy."""

UNREAD: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTRIB", "ATTDEF", "RTEXT", "ARCALIGNEDTEXT"), ("text", "is text")),
    **dict.fromkeys(("HATCH", "MPOLYGON"), ("hatch", "is a hatch")),
    **dict.fromkeys(("SOLID", "TRACE"), ("patch", "is a filled patch")),
    **dict.fromkeys(
        ("IMAGE", "WIPEOUT", "OLEFRAME", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"),
        ("picture", "is a picture"),
    ),
    **dict.fromkeys(
        ("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "TOLERANCE"),
        ("dimension", "is a dimension"),
    ),
    **dict.fromkeys(
        (
            "3DFACE",
            "3DSOLID",
            "BODY",
            "REGION",
            "MESH",
            "SURFACE",
            "EXTRUDEDSURFACE",
            "LOFTEDSURFACE",
            "REVOLVEDSURFACE",
            "SWEPTSURFACE",
            "PLANESURFACE",
            "NURBSURFACE",
            "HELIX",
        ),
        ("space", "is a solid or a surface"),
    ),
    **dict.fromkeys(("XLINE", "RAY"), ("endless", "is an endless construction line")),
    **dict.fromkeys(("MLINE", "SHAPE", "ACAD_TABLE"), ("table", "is a table, a symbol or a multiple line")),
}
"""Kinds that have no outline here: what is told of them, and why one can't be used."""

INVISIBLE = frozenset({"VIEWPORT", "LIGHT", "SUN", "CAMERA", "SECTION", "SECTIONOBJECT", "GEOPOSITIONMARKER"})
"""Kinds that draw nothing."""
WHOLE_LINES = frozenset({"", "CONTINUOUS", "BYLAYER", "BYBLOCK"})
"""Line types that have no gaps, or no say of their own."""
