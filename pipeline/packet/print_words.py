"""Text made safe for paper, as everything in this room takes it (`core/latin.py` says how)."""

from __future__ import annotations

from pipeline.core.latin import LONGEST, UNKNOWN, latin, lost

__all__ = ["LONGEST", "UNKNOWN", "latin", "lost"]
