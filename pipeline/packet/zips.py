"""A shop's folder as one zip archive with fixed dates, so that equal files give equal archives."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

DATE = (1980, 1, 1, 0, 0, 0)
"""The earliest date the format can hold: an archive says nothing of when it was made."""


def zip_bytes(folder: Path) -> bytes:
    """All files of a folder, sorted by name, under the folder's own name. Raises OSError."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for path in sorted(folder.rglob("*"), key=lambda p: p.relative_to(folder).as_posix()):
            if path.is_file():
                info = zipfile.ZipInfo(f"{folder.name}/{path.relative_to(folder).as_posix()}", DATE)
                info.compress_type = zipfile.ZIP_DEFLATED
                info.create_system = 3
                info.external_attr = 0o644 << 16
                archive.writestr(info, path.read_bytes())
    return out.getvalue()
