"""The command line: arguments in, messages and exit code out. Nothing else in the product prints.

Exit codes: 0 done; 1 done, but a ``stop`` finding holds a packet back; 2 a recipe or drawing can't be
used; 3 the machine failed us. Over several recipes the worst one counts.
"""

from __future__ import annotations

import argparse
import json
import os
import sys

from pipeline.core.failures import MouldloftError

TYPE_CHECKING = False  # type checkers take it for true; importing `typing` for it costs 3 ms
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

    from pipeline.core.answer import Answer
    from pipeline.progress import Progress

VERBS: dict[str, str] = {
    "build": "make the packets of recipes (or folders of recipes)",
    "check": "what a shop would write back: findings with places and remedies",
    "print": "the full-size paper print alone",
    "sequence": "the order of work, each line with its reason",
    "look": "number every object of a drawing in a picture",
    "proof": "read a packet's files back and measure them against the design",
    "compare": "what an edit changed, and what of all that was cut is still good",
    "issue": "mark a packet as sent",
    "new": "a starter folder that builds",
    "schema": "the JSON Schema of recipes",
}

PAPERS = (
    "A0 to A5, B0 to B5, Letter, Legal, Tabloid, ANSI-C to ANSI-E, roll-420, -594, -610, -841 or -914; of several "
    "with commas between the best is taken (default: A4)"
)
EXTRAS = "strip (of the edge), contours (of glue lines), gauges, hand, leg; several with commas between, or all"


def _formatter(prog: str) -> argparse.HelpFormatter:
    """Help as wide as the terminal says it is; argparse asks a module for that which takes 5 ms to load."""
    columns = os.environ.get("COLUMNS", "")
    return argparse.HelpFormatter(prog, width=max(40, int(columns) - 2 if columns.isdigit() else 100))


def _parser() -> argparse.ArgumentParser:
    p = argparse.ArgumentParser(
        prog="mouldloft",
        description="From a designer-maker's outline and one recipe to the files a workshop can cut.",
        formatter_class=_formatter,
    )
    p.add_argument("--version", action="store_true", help="say which version this is")
    verbs = p.add_subparsers(dest="verb", metavar="COMMAND", prog=p.prog)

    def verb(name: str, *arguments: tuple[str, dict[str, Any]]) -> None:
        sub = verbs.add_parser(
            name, help=VERBS[name], description=VERBS[name].capitalize() + ".", formatter_class=_formatter
        )
        for flag, options in arguments:
            sub.add_argument(flag, **options)
        sub.add_argument("--json", action="store_true", help="one JSON document on standard output")

    out = ("--out", {"default": "out", "metavar": "DIR", "help": "where packets go (default: out)"})
    recipe = ("recipe", {"metavar": "RECIPE", "help": "a recipe file"})
    paths = ("paths", {"nargs": "+", "metavar": "PATH", "help": "recipe files, or folders of them"})
    verb(
        "build",
        paths,
        out,
        ("--fresh", {"action": "store_true", "help": "do everything again, stale or not"}),
        ("--why", {"action": "store_true", "help": "tell why each step ran"}),
        ("--improve", {"type": float, "metavar": "SECONDS", "help": "first look for better layouts of the parts"}),
        ("--prune", {"action": "store_true", "help": "tidy up the kept results that nobody has used for long"}),
        ("--jobs", {"type": int, "default": 1, "metavar": "N", "help": "build N designs at once (0: one a core)"}),
        ("--engine", {"default": "", "metavar": "ADDRESS", "help": "build on the workers of this Dask scheduler"}),
        ("--report", {"default": "", "metavar": "FILE", "help": "write what has changed into a file, in words"}),
        ("--watch", {"action": "store_true", "help": "build again after each save, until Ctrl-C"}),
    )
    verb("check", paths, out, ("--all", {"action": "store_true", "help": "all findings, not the worst five"}))
    verb(
        "print",
        recipe,
        out,
        ("--paper", {"default": "A4", "metavar": "NAME", "help": PAPERS}),
        ("--back", {"action": "store_true", "help": "mirrored, to lie on the back"}),
        ("--measured", {"default": "", "metavar": "X,Y", "help": "what the rules of an earlier print measured"}),
        ("--also", {"default": "", "metavar": "WHAT", "help": EXTRAS}),
        ("--thickness", {"type": float, "metavar": "MM", "help": "of the edge strip, where no stack says it"}),
    )
    verb("sequence", recipe)
    verb("look", ("drawing", {"metavar": "DRAWING", "help": "an SVG or DXF file"}), out)
    verb(
        "proof",
        ("packet", {"metavar": "PACKET", "help": "a packet's folder"}),
        ("--recipe", {"metavar": "FILE", "default": "", "help": "the recipe to measure against"}),
    )
    verb(
        "compare",
        ("old", {"metavar": "OLD", "help": "a packet's folder, also an issued one"}),
        ("new", {"metavar": "NEW", "help": "another packet's folder, or a recipe"}),
        out,
        ("--recipe", {"metavar": "FILE", "default": "", "help": "the recipe of NEW, where it can't be found"}),
    )
    verb("issue", recipe, out)
    verb(
        "new",
        ("folder", {"metavar": "FOLDER", "help": "a folder to make"}),
        (
            "--starter",
            {
                "default": "instrument",
                "choices": ["instrument", "lamp", "templates", "board"],
                "help": "which starter (default: instrument)",
            },
        ),
    )
    verb("schema")
    return p


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = _parser()
    args = parser.parse_args(argv)
    if args.version:
        from pipeline import __version__

        print(f"mouldloft {__version__}")
        return 0
    if args.verb is None:
        parser.print_help(sys.stderr)
        return 2
    try:
        answer = _run(args)
    except MouldloftError as error:
        if args.json:
            print(json.dumps({"exit_code": error.exit_code, "error": error.show()}, ensure_ascii=False, indent=1))
        print(error.show(), file=sys.stderr)
        return error.exit_code
    except OSError as error:
        print(f"{error.filename or 'the disk'}: {error.strerror or error}.", file=sys.stderr)
        return 3
    except Exception as error:  # a fault of our own: a sentence, never a traceback
        from pipeline.assemble import fault

        print(fault(args.verb, error), file=sys.stderr)
        return 3
    except KeyboardInterrupt:
        print("Stopped. The last good packets are as they were.", file=sys.stderr)
        return 130
    if args.json:
        print(json.dumps(answer.data, ensure_ascii=False, indent=1, sort_keys=True))
    elif answer.text:
        print(answer.text)
    for line in answer.said:
        print(line, file=sys.stderr)
    return answer.exit_code


def _watched(args: argparse.Namespace) -> Progress:
    """A line that tells a person what is being done; nothing in a pipe, for a program, or in a file."""
    from pipeline.progress import Progress

    return Progress(None if args.json else sys.stderr)


def _watch(args: argparse.Namespace, build: Callable[[], Answer]) -> Answer:
    """Build after each save and say what came of it, until Ctrl-C, which is no fault here."""
    from pipeline.watching import watch

    last: list[Answer] = []

    def say(answer: Answer, saved: tuple[str, ...]) -> None:
        last[:] = [answer]
        for line in (*(f"{os.path.relpath(path)} was saved." for path in saved), *answer.said):
            print(line, file=sys.stderr, flush=True)

    try:
        watch(args.paths, build, say)
    except KeyboardInterrupt:
        print("Watching has ended.", file=sys.stderr)
    from pipeline.core.answer import Answer

    return Answer(exit_code=last[0].exit_code if last else 0)


def _run(args: argparse.Namespace) -> Answer:
    """The verb's answer; each verb imports only what it needs."""
    if args.verb == "build":
        from pipeline.path import build

        with _watched(args) as tell:
            how = {
                "out": args.out,
                "why": args.why,
                "jobs": args.jobs,
                "engine": args.engine,
                "report": args.report,
            }
            if args.watch:
                return _watch(args, lambda: build(args.paths, tell=tell, **how))
            return build(args.paths, fresh=args.fresh, prune=args.prune, improve=args.improve, tell=tell, **how)
    from pipeline import verbs

    match args.verb:
        case "check":
            with _watched(args) as tell:
                return verbs.check(args.paths, out=args.out, everything=args.all, tell=tell)
        case "print":
            return verbs.print_full_size(
                args.recipe,
                out=args.out,
                paper=args.paper,
                measured=args.measured,
                back=args.back,
                also=args.also,
                thickness_mm=args.thickness,
            )
        case "sequence":
            return verbs.sequence(args.recipe)
        case "look":
            return verbs.look(args.drawing, out=args.out)
        case "proof":
            return verbs.prove_packet(args.packet, recipe=args.recipe)
        case "compare":
            from pipeline.comparing import compare_packets

            return compare_packets(args.old, args.new, out=args.out, recipe=args.recipe)
        case "issue":
            return verbs.issue(args.recipe, out=args.out)
        case "new":
            return verbs.new(args.folder, starter=args.starter)
    return verbs.schema()
