"""Run the command line with ``python -m duskline``."""

from __future__ import annotations

from duskline.cli.main import main

if __name__ == "__main__":
    main()
