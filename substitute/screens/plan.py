"""Plan."""

from . import common


def show() -> None:
    """Draw the screen."""
    common.heading("Plan", "In the making.")
