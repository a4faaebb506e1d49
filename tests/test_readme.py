"""What README shows is true: its recipe builds, and it names one command for the demo and one for the tests."""

from __future__ import annotations

import re
from pathlib import Path
from types import ModuleType

from pipeline import build

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="260mm" height="160mm" viewBox="0 0 260 160">
<path id="tray" fill="none" stroke="#000" 
  d="M20 40C20 20 60 20 130 20S240 30 240 80S200 140 130 140S20 120 20 80Z"/>
<path id="left-mark" stroke="#000" d="M26 80h8M30 76v8"/>
<path id="right-mark" stroke="#000" d="M226 80h8M230 76v8"/></svg>"""


def test_the_recipe_of_readme_builds(tmp_path: Path) -> None:
    """A newcomer who copies it, with a drawing that has its three objects, gets a file for a shop."""
    (recipe,) = re.findall(r"```yaml\n(.*?)```", README, re.S)
    (tmp_path / "tray.yaml").write_text(recipe, encoding="utf-8")
    (tmp_path / "tray.svg").write_text(DRAWING, encoding="utf-8")
    answer = build([tmp_path / "tray.yaml"], out=tmp_path / "out")
    assert answer.exit_code == 0, answer.said
    assert (tmp_path / "out" / "tray" / "shops" / "router" / "tray-A_tray_ply_x1.dxf").is_file()


def test_the_verbs_are_functions_however_often_they_are_asked_for() -> None:
    """An imported module of a verb's name would take its place in the package; none has one."""
    import pipeline

    for verb in pipeline.__all__[1:]:
        getattr(pipeline, verb)
        assert callable(getattr(pipeline, verb)), verb
        assert not isinstance(getattr(pipeline, verb), ModuleType), verb


def test_two_commands_in_all() -> None:
    """One runs the main job on the demos, one the tests; each makes its own environment."""
    commands = re.findall(r"^\$ (.*)$", README, re.M)
    assert len(commands) == 2
    assert all(c.startswith("python3 -m venv .venv && ") for c in commands)
    assert commands[0].endswith("mouldloft build configs/recipes")
    assert commands[1].endswith("-m pytest")
