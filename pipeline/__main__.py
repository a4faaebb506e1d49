"""``python -m pipeline`` is the command ``mouldloft``."""

from pipeline.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
