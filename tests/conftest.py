"""Options for the slow and the browser tests, and a clean surrounding for all."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

OPTIONS = {"browser": "drive a real Chromium", "slow": "run the tests that take minutes"}


def pytest_addoption(parser):
    for name, purpose in OPTIONS.items():
        parser.addoption(f"--{name}", action="store_true", default=False, help=purpose)


def pytest_configure(config):
    settings.register_profile("substitute", deadline=None)  # a slow machine is no fault
    settings.load_profile("substitute")
    os.environ.pop("SUBSTITUTE_BOOK", None)
    os.environ.pop("SUBSTITUTE_TABLES", None)  # a person's own tables must not leak into the tests


def pytest_collection_modifyitems(config, items):
    for name in OPTIONS:
        if not config.getoption(f"--{name}"):
            for item in items:
                if name in item.keywords:
                    item.add_marker(pytest.mark.skip(reason=f"needs --{name}"))
