"""All that a build loads, for worker processes that are made ready once and then copied."""

from __future__ import annotations

from pipeline import assemble, checks
from pipeline.compare import recut, since
from pipeline.graph import derive
from pipeline.intake import made, recipe
from pipeline.packet import exchange, lock, shop_files
from pipeline.steps import registry
from pipeline.workshop import nest, sequence

LOADED = (
    assemble, checks, recut, since, derive, made, recipe, exchange, lock, shop_files, registry, nest, sequence,
)  # fmt: skip
