"""Rebalance."""

from . import common


def show() -> None:
    """Draw the screen."""
    common.heading("Rebalance", "In the making.")
