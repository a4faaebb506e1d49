"""The made register's rows from a spreadsheet: read with the register beside it, refused with every place."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.made import Made, MadePiece, read_made, rows_of_text, spreadsheet_of
from pipeline.intake.recipe import read_recipe

CSV = """\
Piece,Revision,Date,Count,Measured,Length,Width,Condition,Glued,Machined,Page,A,B,C
blank-1,A,3 April 2027,1,11.8,,,,,,,440.02,414.97,
body_guide,A,,2,9.1,344.05,236.1,"a dent, at the tail",,,heron-A_body_guide_mdf9_x1,344.05,,
blank,A,,,35.4,,,,yes,back and front,,,,
"""


def test_rows_of_a_spreadsheet() -> None:
    """Three gauged dimensions come back as A, B, C; a glued blank's thickness counts as measured."""
    made = rows_of_text(CSV.encode(), "heron.made.csv")
    assert made.made == (
        MadePiece(
            piece="blank-1", revision="A", date="3 April 2027", measured=11.8, gauged={"A": 440.02, "B": 414.97}
        ),
        MadePiece(
            piece="body_guide",
            revision="A",
            count=2,
            measured=9.1,
            size=(344.05, 236.1),
            condition="a dent, at the tail",
            page="heron-A_body_guide_mdf9_x1",
            gauged={"A": 344.05},
        ),
        MadePiece(piece="blank", revision="A", measured=35.4, glued=True, machined=("back", "front")),
    )
    assert made.blanks == {"blank": 35.4}


def test_semicolons_and_decimal_commas() -> None:
    """As spreadsheets of many countries write it, with a byte order mark and empty rows."""
    text = "\ufeffpiece;revision;measured;a\r\nblank-1;A;11,8;440,02\r\n;;;\r\n3;B;1 3/8 in;\r\n"
    made = rows_of_text(text.encode(), "heron.made.csv")
    assert made.made == (
        MadePiece(piece="blank-1", revision="A", measured=11.8, gauged={"A": 440.02}),
        MadePiece(piece="3", revision="B", measured=34.925),
    )


def test_register_and_spreadsheet_count_together(tmp_path: Path) -> None:
    """Issues stand in the register; what the register says of a blank's thickness counts before a row's."""
    register = tmp_path / "heron.made.yaml"
    assert spreadsheet_of(register) == tmp_path / "heron.made.csv"
    spreadsheet_of(register).write_text(CSV, encoding="utf-8")
    assert [p.piece for p in read_made(register).made] == ["blank-1", "body_guide", "blank"]
    register.write_text(
        "issued: [{revision: A}]\nblanks: {blank: 35.45}\nmade: [{piece: cover, revision: A}]\n", encoding="utf-8"
    )
    both = read_made(register)
    assert [i.revision for i in both.issued] == ["A"]
    assert [p.piece for p in both.made] == ["cover", "blank-1", "body_guide", "blank"]
    assert both.blanks == {"blank": 35.45}


def test_all_mistakes_of_both_files_at_once(tmp_path: Path) -> None:
    """With file, line and column."""
    register = tmp_path / "heron.made.yaml"
    register.write_text("made: [{piece: a, revision: Q, gauged: {D: 3}}]\n", encoding="utf-8")
    spreadsheet_of(register).write_text(
        "piece,revision,count,A,length,machined\nx,A,half,-3,,\n,A,,,,\ny,A,,,12,\nz,A,,,,left\nw,A,1,2,3,front,7\n",
        encoding="utf-8",
    )
    with pytest.raises(Refused) as refused:
        read_made(register)
    told = [(p.place.file, p.place.line, p.place.column) for p in refused.value.problems if p.place]
    assert told == [
        ("heron.made.csv", 2, 5),
        ("heron.made.csv", 2, 10),
        ("heron.made.csv", 3, 1),
        ("heron.made.csv", 4, 7),
        ("heron.made.csv", 5, 8),
        ("heron.made.csv", 6, 17),
        ("heron.made.yaml", 1, 29),
        ("heron.made.yaml", 1, 41),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "The file is empty"),
        ("piece\nx\n", "No column is called `revision`"),
        ("piece,revision,piece\nx,A,y\n", "stands twice"),
        ("piece,revison\nx,A\n", "did you mean `revision`"),
        ("piece,revision,machined\nx,A,back\n", "isn't said to be a glued blank"),
    ],
)
def test_mistakes_are_told(text: str, words: str) -> None:
    with pytest.raises(Refused) as refused:
        rows_of_text(text.encode(), "heron.made.csv")
    assert words in refused.value.show()


def test_a_recipe_may_name_its_spreadsheet(tmp_path: Path) -> None:
    """The register itself is then the YAML file beside it; the spreadsheet is one of the recipe's inputs."""
    (tmp_path / "configs").mkdir()
    (tmp_path / "d.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50">'
        '<path id="a" d="M5 5H45V45H5Z"/></svg>',
        encoding="utf-8",
    )
    recipe = tmp_path / "d.yaml"
    recipe.write_text(
        "design: d\ndrawing: d.svg\nmade: cut.csv\nsteps: {a: {kind: outline, drawn: a}}\n", encoding="utf-8"
    )
    (tmp_path / "cut.csv").write_text("piece,revision\na,A\n", encoding="utf-8")
    read = read_recipe(str(recipe))
    assert Path(read.made) == tmp_path / "cut.yaml"
    assert "cut.csv" in [i.path for i in read.inputs]
    assert read_made(read.made) == Made(made=(MadePiece(piece="a", revision="A"),))
