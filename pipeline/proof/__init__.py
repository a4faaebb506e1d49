"""proof: reads a packet's own shop files back, with readers that share no code with the writers."""

from __future__ import annotations

from pipeline.proof.proof import Proof, Spot, prove

__all__ = ["Proof", "Spot", "prove"]
