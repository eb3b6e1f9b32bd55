"""The product of the screening against scipy's public one, with and without the inner routine it leans on."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

from substitute.rules import portfolio

SHAPES = ((1, 1, 1), (40, 30, 20), (200, 50, 7))


@pytest.mark.parametrize("routine", ["found", "not found"])
@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_product_is_the_public_one(monkeypatch, routine, shape):
    if routine == "not found":
        monkeypatch.setattr(portfolio, "_csr_matmat", None)
    rows, middle, columns = shape
    left = sparse.random_array((rows, middle), density=0.3, format="csr", rng=np.random.default_rng(1))
    right = sparse.random_array((middle, columns), density=0.3, format="csr", rng=np.random.default_rng(2))
    indptr, indices, data = portfolio.product(left, right)
    found = sparse.csr_array((data, indices, indptr), shape=(rows, columns))
    assert found.toarray() == pytest.approx((left.toarray() @ right.toarray()), abs=1e-12)
