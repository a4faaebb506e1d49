"""Shop files of the hand-made designs, written by the real writers, and ways to spoil them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Part, region, solid
from pipeline.packet.dxf import dxf_bytes
from pipeline.packet.shop_files import shop_files
from pipeline.packet.svg import svg_bytes
from pipeline.proof import Proof, prove
from pipeline.steps.values import Derived, Nest, Op, Piece, SetUp
from tests.packet import factory

LAMINATION = "shops/router/heron-B_blank-1_birch12_x1.dxf"
BACK = "shops/router/heron-B_blank_x1_back.dxf"
FRONT = "shops/router/heron-B_blank_x1_front.dxf"
NEST = "shops/laser/heron-B_nest-ply3-A.dxf"
REFERENCE = "shops/laser/heron-B_nest-ply3-A_reference.dxf"


class Packet:
    """A packet folder with its design; `read` proves it."""

    def __init__(self, folder: Path, derived: Derived, nests: tuple[Nest, ...] = ()) -> None:
        self.folder, self.derived, self.nests = folder, derived, nests
        for name, data in _written(derived, nests).items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)

    def read(self) -> Proof:
        return prove(self.folder, self.derived, self.nests)

    def texts(self, part: str = "") -> list[str]:
        return [f.message for f in self.read().findings if part in f.message]

    def text(self, name: str, change: Callable[[str], str]) -> None:
        """Change a file as text."""
        path = self.folder / name
        before = path.read_text(encoding="utf-8")
        after = change(before)
        assert after != before
        path.write_text(after, encoding="utf-8", newline="\n")

    def drawn(self, name: str, change: Callable[[Any], None]) -> None:
        """Change a file's entities through ezdxf, a reader and writer that the proof doesn't share."""
        import ezdxf

        doc = ezdxf.readfile(self.folder / name)
        change(doc.modelspace())
        doc.saveas(self.folder / name)


def _written(derived: Derived, nests: tuple[Nest, ...]) -> dict[str, bytes]:
    """Shop files by their paths; those of the usual heron are written once for all tests."""
    if derived is _usual() and nests == (factory.cover_nest(),):
        return _usual_files()
    found: dict[str, bytes] = {}
    for file in shop_files(derived, nests):
        stem = f"shops/{file.shop}/{file.stem}"
        found[f"{stem}.dxf"] = dxf_bytes(file)
        if file.kind != "reference":
            found[f"{stem}.svg"] = svg_bytes(file)
    return found


@cache
def _usual() -> Derived:
    return factory.derived(factory.recipe())


@cache
def _usual_files() -> dict[str, bytes]:
    same = factory.derived(factory.recipe())
    return _written(same, (factory.cover_nest(),))


def heron(tmp: Path, made_for: Any = None, **pieces: Any) -> Packet:
    """A lamination and both faces of a blank for the router, two covers on a sheet for the laser."""
    if made_for is None and not pieces:
        return Packet(tmp, _usual(), (factory.cover_nest(),))
    r = made_for or factory.recipe()
    nests = (factory.cover_nest(),) if r.shops["laser"].wants == "nests" else ()
    return Packet(tmp, factory.derived(r, **pieces), nests)


def egg(shift: float = 0.0) -> Contour:
    """A smooth free-form outline as intake would give it: ρ = 90 + 25 cos t + 8 cos 3t, as a fine arc chain."""
    t = np.linspace(0.0, 2 * np.pi, 4000, endpoint=False)
    rho = 90 + 25 * np.cos(t) + 8 * np.cos(3 * t)
    slope = -25 * np.sin(t) - 24 * np.sin(3 * t)
    xy = np.stack([rho * np.cos(t) + shift, rho * np.sin(t)], axis=1)
    d = np.stack([slope * np.cos(t) - rho * np.sin(t), slope * np.sin(t) + rho * np.cos(t)], axis=1)
    d /= np.hypot(*d.T)[:, None]
    e = np.roll(d, -1, axis=0)
    turn = np.arctan2(d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0], (d * e).sum(axis=1))
    return Contour(xy, np.tan(turn / 4), np.ones(len(xy), dtype=np.bool_), True)


def plate(name: str, edge: Contour, *openings: Contour, shop: str = "router", labels: Any = ()) -> Piece:
    """A panel of an edge and openings, one set-up from the front."""
    shape = region([Part(edge, tuple(openings))]) if openings else solid(edge)
    ops = [Op(work="CUT_INSIDE", face="front", contours=tuple(openings), step=name)] if openings else []
    ops.append(Op(work="CUT_OUTSIDE", face="front", contours=(edge,), step=name))
    return Piece(
        name=name, role="panel", step="blank", sheet="birch12", letter="A", shop=shop, count=1,
        thickness_mm=11.8, region=shape, cut=shape, set_ups=(SetUp(face="front", ops=tuple(ops), labels=labels),),
        mass_g=None,
    )  # fmt: skip


def single(tmp: Path, piece: Piece, shop: Shop | None = None) -> Packet:
    """A packet of one piece."""
    shops = {"router": shop or Shop(), "laser": factory.laser()}
    return Packet(tmp, factory.derived(factory.recipe(shops), pieces=(piece,), blanks=()))
