"""``python -m substitute.guide OUT``: the guide as Markdown pages in a folder."""

from __future__ import annotations

import sys
from pathlib import Path

from ..errors import InputError
from . import build


def main(args: list[str]) -> int:
    """Returns the code to end with: 0 done, 2 the input is at fault."""
    if len(args) != 1 or args[0].startswith("-"):
        print("usage: python -m substitute.guide OUT", file=sys.stderr)
        return 2
    try:
        made = build(Path(args[0]))
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    print(f"{len(made)} pages in {args[0]}; begin with index.md")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
