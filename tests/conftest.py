"""Options for the slow and the browser tests, a clean surrounding, and the libraries that most files ask."""

from __future__ import annotations

import functools
import gc
import os
import sys

import effort
import pytest
from hypothesis import settings

import substitute

OPTIONS = {"browser": "drive a real Chromium", "slow": "run the tests that take minutes, and every example"}


def pytest_addoption(parser):
    for name, purpose in OPTIONS.items():
        parser.addoption(f"--{name}", action="store_true", default=False, help=purpose)


def pytest_configure(config):
    effort.choose(config.getoption("--slow"))
    examples = effort.examples(100)
    settings.register_profile(
        "substitute", deadline=None, max_examples=examples
    )  # a slow machine is no fault
    settings.load_profile("substitute")
    os.environ.pop("SUBSTITUTE_BOOK", None)
    os.environ.pop("SUBSTITUTE_TABLES", None)  # a person's own tables must not leak into the tests


def pytest_collection_modifyitems(config, items):
    for name in OPTIONS:
        if not config.getoption(f"--{name}"):
            for item in items:
                if name in item.keywords:
                    item.add_marker(pytest.mark.skip(reason=f"needs --{name}"))


def pytest_collection_finish(session):
    """What was imported stays: the collector of circles need not look through it again, nor look as often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture(scope="session", autouse=True)
def tables_read_once():
    """Tables are frozen, and so is a library without labels or a book: all that a process is asked may share one of
    each, while no byte of the tables changes."""
    from substitute import library
    from substitute.book.which import which_book
    from substitute.tables.load import own_folder

    read, load, kept = library.load_tables, library.load, effort.tables
    shared = {}

    def reading(tables=None):
        own = own_folder(tables)
        held = own and tuple((path.name, path.read_bytes()) for path in sorted(own.glob("*.csv")))
        if (own, held) not in kept:
            kept[own, held] = read(tables)  # raises, and keeps nothing, where a table is faulty
        return kept[own, held]

    def loading(tables=None, evidence=True, labels=None, book=None):
        if labels is not None or which_book(book):
            return load(tables, evidence, labels, book)
        found = reading(tables)
        if (id(found), evidence) not in shared:
            shared[id(found), evidence] = library.Library(found, evidence)
        return shared[id(found), evidence]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(library, "load_tables", reading)
        patch.setattr(library, "load", loading)
        yield


@pytest.fixture(scope="session", autouse=True)
def installed_components_read_once():
    """Streamlit's driver of screens looks through every installed distribution each time an app is opened: three
    quarters of what opening one takes. What is installed does not change while tests run."""
    if "streamlit.testing.v1" not in sys.modules:  # read with the file of tests that needs it
        yield
        return
    from streamlit.components.v2 import manifest_scanner

    with pytest.MonkeyPatch.context() as patch:
        looking = functools.cache(manifest_scanner.scan_component_manifests)
        patch.setattr(manifest_scanner, "scan_component_manifests", looking)
        yield


@pytest.fixture(scope="session")
def library():
    """The shipped tables, read once in every process: a library is frozen, so all tests may share it."""
    return substitute.load()


@pytest.fixture(scope="session")
def tables(library):
    """The shipped tables as records."""
    return library.tables


@pytest.fixture(scope="session")
def plain():
    """The library without documented swaps: what profiles and constituents alone say."""
    return substitute.load(evidence=False)
