"""Words made safe for paper."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.packet.print_words import LONGEST, latin, lost


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("Heron – 4 €, ‘new’", "Heron – 4 €, ‘new’"),  # Windows-1252 has these
        ("Lőrinc Dvořák", "Lorinc Dvorák"),  # ő and ř are not in it, á is
        ("e\u0301", "é"),  # an accent of its own joins its letter
        ("Лира", "????"),
        ("שלום heron", "???? heron"),
        ("a\u202eb\u200fc\u2066d", "abcd"),  # marks that reorder what follows
        ("a\tb\nc\u00a0d", "a b c d"),
        ("\x00\x1b[31mred", "[31mred"),
        ("<script>", "<script>"),
        ("ﬁne", "fine"),
    ],
)
def test_letters(text: str, want: str) -> None:
    assert latin(text) == want


def test_long_texts_are_cut() -> None:
    assert latin("x" * 5000) == "x" * (LONGEST - 1) + "…"
    assert latin("x" * LONGEST) == "x" * LONGEST


def test_what_is_lost_is_known() -> None:
    assert lost("Лира")
    assert not lost("why?")
    assert not lost("Dvořák")


@given(st.text(max_size=60))
def test_any_text_can_be_shown(text: str) -> None:
    """What comes out is one line of Windows-1252 (read by the codec), and safe text stays as it is."""
    shown = latin(text)
    assert shown.encode("cp1252").decode("cp1252") == shown
    assert not any(ord(c) < 32 or 127 <= ord(c) < 160 for c in shown)
    assert latin(shown) == shown
