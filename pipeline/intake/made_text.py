"""Writes one entry into the made register's text without touching the maker's own lines."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from pipeline.intake.yaml_nodes import line_breaks, scalar

_SIMPLE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_./ +-]*")


def block_entry(values: Mapping[str, Any], indent: int) -> str:
    """A list item in block layout, each line ending in a newline: ``  - revision: A`` and so on."""
    lines: list[str] = []
    for key, value in values.items():
        if isinstance(value, Mapping):
            lines.append(f"{key}:")
            lines += [f"  {word(k)}: {word(v)}" for k, v in value.items()]
        else:
            lines.append(f"{key}: {word(value)}")
    pad = " " * indent
    return "".join(f"{pad}{'- ' if n == 0 else '  '}{line}\n" for n, line in enumerate(lines))


def word(text: str) -> str:
    """Text as YAML: bare where it surely reads as text, else in double quotes."""
    is_bare = _SIMPLE.fullmatch(text) and text == text.strip() and isinstance(scalar(text), str)
    return text if is_bare else json.dumps(text, ensure_ascii=False)


def inserted(text: str, values: Mapping[str, Any]) -> str:
    """``text`` (a register that can be read) with an entry after the last one under ``issued``."""
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    root: Any = yaml.compose(text.removeprefix("\ufeff"), Loader=loader)
    issued = next((v for k, v in root.value if k.value == "issued"), None)
    lines = line_breaks(text)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += "\n"
    if issued is None:
        return "".join(lines) + "issued:\n" + block_entry(values, root.start_mark.column + 2)
    start, end = issued.start_mark, issued.end_mark
    if isinstance(issued, yaml.SequenceNode) and issued.flow_style and issued.value:
        line, column = end.line, end.column - 1
        lines[line] = lines[line][:column] + ", " + json.dumps(values, ensure_ascii=False) + lines[line][column:]
        return "".join(lines)
    if isinstance(issued, yaml.SequenceNode) and not issued.flow_style:
        after, column = _last_line(issued) + 1, start.column
    else:  # nothing yet: `issued:` or `issued: []`
        lines[start.line] = lines[start.line][: start.column] + lines[end.line][end.column :]
        after, column = start.line + 1, root.start_mark.column + 2
    return "".join([*lines[:after], block_entry(values, column), *lines[after:]])


def _last_line(node: Any) -> int:
    """The last line that holds something of a node (block collections end only where the next thing begins)."""
    import yaml

    inner = (
        [child for pair in node.value for child in pair]
        if isinstance(node, yaml.MappingNode)
        else node.value
        if isinstance(node, yaml.SequenceNode)
        else []
    )
    if inner and not node.flow_style:
        return max(_last_line(child) for child in inner)
    end: int = node.end_mark.line
    return end - 1 if node.end_mark.column == 0 and end > node.start_mark.line else end
