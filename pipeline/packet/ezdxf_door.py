"""The one door to ezdxf: imported without its user's settings, its font search and its cache files.

On import ezdxf reads settings from the user's home and from the current folder, searches the system's fonts
and writes a cache into the user's home. A packet must depend on none of that, so the first import here
happens with those places pointed at a folder of ours that holds an empty list of fonts.
"""

from __future__ import annotations

import os
import sys
import threading
from importlib import import_module
from pathlib import Path
from types import ModuleType

_LOCK = threading.Lock()
_PLACES = ("XDG_CONFIG_HOME", "XDG_CACHE_HOME")
_SETTINGS = ("EZDXF_CONFIG_FILE", "EZDXF_TEST_FILES", "EZDXF_DISABLE_C_EXT")


def quiet_ezdxf() -> ModuleType:
    """The ezdxf module with its default settings and fixed dates and identifiers in what it writes."""
    with _LOCK:
        first = "ezdxf" not in sys.modules
        if first:
            _import_quietly(str(Path(__file__).resolve().parents[1] / "data" / "quiet"))
        module = import_module("ezdxf")
        if first:
            module.options.reset()
        module.options.write_fixed_meta_data_for_testing = True
    return module


def _import_quietly(folder: str) -> None:
    """Import ezdxf from within ``folder``, with the places of its settings and caches pointed there."""
    before = {name: os.environ.get(name) for name in (*_PLACES, *_SETTINGS)}
    here = os.getcwd()
    try:
        for name in _SETTINGS:
            os.environ.pop(name, None)
        for name in _PLACES:
            os.environ[name] = folder
        os.chdir(folder)
        import_module("ezdxf")
    finally:
        os.chdir(here)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
