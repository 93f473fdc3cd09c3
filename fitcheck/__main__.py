"""``python -m fitcheck`` is the command ``fitcheck``."""

from fitcheck.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
