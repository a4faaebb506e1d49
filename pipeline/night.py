"""What a run over many designs changed: packets, files in them, findings that are new or gone.

A nightly run is read in the morning: first what is held or failed, then which packets changed though nobody
touched their recipe (a drawing, a sheet's thickness, a shop's profile), then what is new to decide.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

Row = dict[str, Any]
Known = dict[str, Any]
FINDINGS = ("check", "severity", "step", "piece", "message")


def packets_of(record: Mapping[str, Any] | None, out: str) -> dict[str, Known]:
    """The packets that the last build of a recipe left in ``out``, by design: their packet.json, as far as it can
    be read. ``record`` is the record of that build, None where there is none."""
    folders = record["packets"] if record else []
    return {f.removesuffix(".held"): _packet(os.path.join(out, f)) for f in folders}


def _packet(folder: str) -> Known:
    try:
        with open(os.path.join(folder, "packet.json"), encoding="utf-8") as stream:
            found = json.load(stream)
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def news(before: Mapping[str, Known], packets: Sequence[Mapping[str, Any]]) -> list[Row]:
    """For each packet that was made: its files that are new, changed or gone, its findings that are new or gone.

    ``packets`` are rows of a build's answer (folder, held, files …); ``before`` is `packets_of` before the build.
    """
    rows = []
    for p in packets:
        name = os.path.basename(str(p["folder"])).removesuffix(".held")
        old, new = before.get(name, {}), _packet(str(p["folder"]))
        was, now = _files(old), _files(new)
        open_before, open_now = _findings(old), _findings(new)
        rows.append(
            {
                "packet": name,
                "first": not old,
                "held": bool(p["held"]),
                "files_new": sorted(set(now) - set(was)),
                "files_changed": sorted(f for f in now if f in was and now[f] != was[f]),
                "files_gone": sorted(set(was) - set(now)),
                "findings_new": [f for k, f in open_now.items() if k not in open_before],
                "findings_gone": [f for k, f in open_before.items() if k not in open_now],
                "inputs_changed": _inputs(old, new),
            }
        )
    return rows


def _files(packet: Known) -> dict[str, str]:
    return {str(f["path"]): str(f["sha256"]) for f in packet.get("files", ())}


def _inputs(old: Known, new: Known) -> list[str]:
    was = {str(i["path"]): str(i["sha256"]) for i in old.get("inputs", ())}
    now = {str(i["path"]): str(i["sha256"]) for i in new.get("inputs", ())}
    return sorted(p for p in {*was, *now} if was.get(p) != now.get(p)) if was else []


def _findings(packet: Known) -> dict[tuple[Any, ...], Row]:
    """Open findings, told apart by what they say of which step and piece, near which place (whole mm)."""
    found = {}
    for f in packet.get("findings", ()):
        if f.get("accepted") or f.get("severity") == "note":
            continue
        at = f.get("at_mm")
        spot = tuple(round(v) for v in at[:2]) if at else ()
        found[f.get("check"), f.get("step"), f.get("piece"), spot] = {
            k: f.get(k) for k in ("check", "severity", "step", "piece", "remedy")
        }
    return found


def report(rows: Iterable[Row]) -> str:
    """The morning's page in plain words: the worst first, then what changed, then how many are as they were."""
    rows = list(rows)
    lines = [summary(rows), ""]
    for state, head in (
        ("failed", "Failed: the machine could not finish these"),
        ("refused", "Refused: these recipes can't be used as they are"),
        ("held", "Held: a finding stops these packets; the last good ones stand"),
    ):
        some = [r for r in rows if r["state"] == state]
        if some:
            lines += [f"{head}.", *(f"  {r['recipe']}{_first(r)}" for r in some), ""]
    unasked = [r for r in rows if r.get("news") and any(_unasked(n, r) for n in r["news"])]
    if unasked:
        lines.append("Changed though their recipe did not: look before anything is cut from older files.")
        lines += [f"  {r['recipe']}: {', '.join(_causes(r)) or 'mouldloft itself'}" for r in unasked]
        lines.append("")
    changed = [(r, n) for r in rows for n in r.get("news", ()) if _differs(n)]
    if changed:
        lines.append("What changed.")
        for _, n in changed:
            lines += _told(n)
        lines.append("")
    same = sum(r["state"] == "nothing to do" for r in rows)
    if same:
        lines.append(f"{same} design{'s are' if same != 1 else ' is'} as before: nothing was to be done.")
    return "\n".join(lines).rstrip() + "\n"


def written(file: str | os.PathLike[str], rows: Sequence[Row]) -> list[str]:
    """Write the page to ``file``; what there is to be said of that. Raises OSError when the disk won't take it."""
    with open(file, "w", encoding="utf-8", newline="\n") as stream:
        stream.write(report(rows))
    return [f"What has changed: {os.fspath(file)}"]


def summary(rows: Sequence[Row]) -> str:
    """One sentence: how many designs, how many built, held, refused, failed, as before."""
    words = (
        ("built", "built"),
        ("held", "held"),
        ("refused", "refused"),
        ("failed", "failed"),
        ("nothing to do", "as before"),
    )
    counts = [(sum(r["state"] == state for r in rows), word) for state, word in words]
    said = ", ".join(f"{n} {word}" for n, word in counts if n)
    return f"{len(rows)} design{'' if len(rows) == 1 else 's'}: {said}."


def _first(row: Row) -> str:
    said = [line for line in row.get("said", ()) if line.strip()]
    return f": {said[0].splitlines()[0].strip()}" if said else ""


def _unasked(new: Row, row: Row) -> bool:
    recipe = os.path.basename(str(row["recipe"]))
    asked = any(os.path.basename(i) == recipe for i in new["inputs_changed"])
    return not new["first"] and _differs(new) and not asked


def _causes(row: Row) -> list[str]:
    return sorted({i for n in row["news"] for i in n["inputs_changed"]})


def _differs(new: Row) -> bool:
    cut = [f for k in ("files_new", "files_changed", "files_gone") for f in new[k]]
    return bool(cut or new["findings_new"] or new["findings_gone"])


def _told(new: Row) -> list[str]:
    if new["first"]:
        lines = [f"  {new['packet']}: made for the first time, {len(new['files_new'])} files."]
    else:
        words = [
            f"{len(new[key])} file{'s' if len(new[key]) > 1 else ''} {word}"
            for key, word in (("files_changed", "changed"), ("files_new", "new"), ("files_gone", "gone"))
            if new[key]
        ]
        lines = [f"  {new['packet']}: {', '.join(words) or 'its findings alone'}."]
        cut = [f for k in ("files_changed", "files_new", "files_gone") for f in new[k] if f.startswith("shops/")]
        lines += [f"    {f}" for f in cut if f.endswith((".dxf", ".svg"))]
    lines += [f"    new {f['severity']}: {_finding(f)}" for f in new["findings_new"]]
    lines += [f"    settled: {_finding(f)}" for f in new["findings_gone"] if not new["first"]]
    return lines


def _finding(f: Row) -> str:
    of = f["piece"] or f["step"]
    return f"{f['check']}{f' of {of}' if of else ''}"
