"""Rules."""

from . import common


def show() -> None:
    """Draw the screen."""
    common.heading("Rules", "In the making.")
