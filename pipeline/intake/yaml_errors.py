"""What is wrong with a text that is no YAML, as one sentence a maker can act on."""

from __future__ import annotations

from pipeline.core.errors import Problem
from pipeline.core.place import Place


def syntax_problem(problem: str, spot: Place, opened: Place | None) -> Problem:
    """``problem`` is the YAML library's own phrase, ``spot`` where it gave up, ``opened`` where the thing
    that it was reading began."""
    here = spot.text[spot.column - 1 : spot.column]
    since = f" in line {opened.line}, column {opened.column}" if opened else ""
    if here == "\t" or "tab character" in problem:
        return Problem(
            wrong="A tab stands here; YAML takes only spaces at the beginning of a line.",
            place=spot,
            remedy="replace the tab by spaces.",
        )
    if "cannot start any token" in problem:
        return Problem(
            wrong=f"A value can't begin with {here}",
            place=spot,
            remedy="put the value in quotes.",
        )
    if "mapping values are not allowed" in problem:
        return Problem(
            wrong="This colon is not expected here.",
            place=spot,
            expected="one name: value a line, all names of one table indented by the same number of spaces",
            remedy="check the indentation and the colon of the line above; put text that holds a colon in quotes.",
        )
    for bracket in "]}":
        if f"',' or '{bracket}'" in problem:
            return Problem(
                wrong=f"A comma or {bracket} is missing before this.",
                place=spot if spot.text else (opened or spot),
                expected=f"{bracket} to close the bracket that opens{since}" if since else f"a comma or {bracket}",
            )
    if "unexpected end of stream" in problem or "unexpected document indicator" in problem:
        return Problem(
            wrong="The quotation mark that opens here is never closed." if opened else "The file ends too early.",
            place=opened or spot,
            remedy="close the quotation mark; inside '…' an apostrophe is written twice.",
        )
    if "escape character" in problem:
        return Problem(
            wrong='A backslash means something special inside "…".',
            place=spot,
            remedy="use '…' instead, or write two backslashes.",
        )
    if "maximum nesting" in problem:
        return Problem(wrong="Values are nested far too deep here.", place=spot)
    if "expected '-' indicator" in problem or "block sequence entries" in problem:
        return Problem(
            wrong="List lines that begin with a dash and lines of another sort are mixed here.",
            place=spot,
            expected='every item on a line of its own, with "- " before it, all indented the same',
        )
    if "did not find expected key" in problem:
        same_line = opened is not None and spot.line >= opened.line and spot.column > opened.column
        if same_line and spot.text[: spot.column - 1].strip():
            return Problem(
                wrong="Something follows a value that is already complete.",
                place=spot,
                expected="one name: value a line",
                remedy="put the whole value in one pair of quotes; inside '…' an apostrophe is written twice.",
            )
        return Problem(
            wrong="This line doesn't fit to the lines above it.",
            place=spot,
            expected="name: value, indented by the same number of spaces as the other names of its table",
        )
    if "expected node content" in problem:
        return Problem(
            wrong="A value is missing before this." if here == "," else "A value is missing here.",
            place=spot,
            expected="a value",
        )
    if "<document start>" in problem:
        return Problem(
            wrong='The file goes on after its end mark "...".', place=spot, remedy='delete the line "...".'
        )
    if "anchor" in problem or " tag " in f" {problem} ":
        return Problem(
            wrong="A mark that begins with & or ! or * can't be read.",
            place=spot,
            remedy="write the value out, without the mark.",
        )
    if "directive" in problem or "incompatible" in problem:
        return Problem(
            wrong="This line begins with % and asks for something that is not known here.",
            place=spot,
            remedy="delete the line.",
        )
    return Problem(
        wrong="This can't be read as YAML.",
        place=spot,
        expected="names with values, a colon and a space between them",
        remedy="check the quotes, brackets and indentation here and in the line above.",
    )
