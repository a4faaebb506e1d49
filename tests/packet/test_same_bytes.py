"""Equal inputs give equal bytes, whatever the machine is set to; and nothing outside the packet is touched."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

WRITE = """
import sys
from pathlib import Path
from tests.packet.whole import written
written(Path(sys.argv[1]))
"""


def digest(folder: Path, env: dict[str, str], cwd: Path = ROOT) -> dict[str, str]:
    """Hashes of all files of a packet written by a process of its own."""
    folder.mkdir()
    subprocess.run(
        [sys.executable, "-c", WRITE, str(folder)],
        check=True,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
        capture_output=True,
    )
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_bytes_do_not_depend_on_hash_seed_time_zone_or_locale(tmp_path: Path) -> None:
    first = digest(tmp_path / "a", {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C"})
    other = digest(tmp_path / "b", {"PYTHONHASHSEED": "77", "TZ": "Pacific/Auckland", "LC_ALL": "de_DE.UTF-8"})
    third = digest(tmp_path / "c", {"PYTHONHASHSEED": "4000", "TZ": "America/Lima", "LC_ALL": "tr_TR.UTF-8"})
    assert len(first) == 17
    assert first == other == third


def test_neither_the_users_settings_nor_the_current_folder_matter(tmp_path: Path) -> None:
    """The DXF library reads settings from home and current folder and writes a font cache; ours must not."""
    home, here = tmp_path / "home", tmp_path / "here"
    home.mkdir()
    here.mkdir()
    (here / "ezdxf.ini").write_text("this is no settings file\n[core\n", encoding="utf-8")
    places = {"HOME": str(home), "XDG_CACHE_HOME": str(home / "cache"), "XDG_CONFIG_HOME": str(home / "config")}
    plain = digest(tmp_path / "a", {})
    other = digest(tmp_path / "b", {**places, "EZDXF_CONFIG_FILE": str(here / "ezdxf.ini")}, cwd=here)
    assert plain == other
    assert list(home.rglob("*")) == []
    assert [p.name for p in here.iterdir()] == ["ezdxf.ini"]


def test_the_environment_is_as_it_was_after_the_import() -> None:
    """The quiet import borrows the environment and gives it back."""
    code = (
        "import os\n"
        "before = (dict(os.environ), os.getcwd())\n"
        "from pipeline.packet.ezdxf_door import quiet_ezdxf\n"
        "quiet_ezdxf()\n"
        "assert before == (dict(os.environ), os.getcwd())\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
