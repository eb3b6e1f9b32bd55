"""The product of the screening against scipy's, on rows of any make."""

from __future__ import annotations

import numpy as np
import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from substitute.rules import product
from substitute.rules.product import Rows
from substitute.tables.packed import Packed


def random_rows(rng, rows: int, columns: int, density: float) -> tuple[Rows, np.ndarray]:
    """Rows, none of them empty, some with a column that stands twice; and the same, dense."""
    lengths = 1 + rng.binomial(columns, density, rows)
    indptr = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
    indices = rng.integers(0, columns, indptr[-1]).astype(np.int32)
    data = rng.random(indptr[-1])
    found = sparse.csr_array((data, indices, indptr), shape=(rows, columns)).toarray()
    return Rows(indptr, indices, data, columns), found


@settings(max_examples=examples(60))
@given(
    st.integers(1, 40),
    st.integers(1, 30),
    st.integers(0, 20),
    st.sampled_from((1, 7, 1 << 20)),
    st.sampled_from((-1, 1 << 18)),
    st.integers(0, 10**6),
)
def test_product_is_scipys(rows, middle, columns, cells, many, seed):
    rng = np.random.default_rng(seed)
    left, dense = random_rows(rng, rows, middle, 0.3)
    matrix = rng.random((middle, columns)) * (rng.random((middle, columns)) < 0.3)
    right = Rows.of(matrix)
    assert right.dense() == pytest.approx(matrix)
    expected = sparse.csr_array(dense) @ sparse.csr_array(matrix).toarray()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(product, "CELLS", cells)
        assert left.times(right) == pytest.approx(expected, abs=1e-12)
        patch.setattr(product, "MANY", many)
        row, column, value = left.above(right, 0.37)
    assert sorted(zip(row.tolist(), column.tolist())) == sorted(
        zip(*(at.tolist() for at in np.nonzero(expected > 0.37)))
    )
    weights, words = rng.random(middle), rng.integers(0, 1 << 62, (2, middle)).astype(np.uint64)
    kept = rng.random(middle) < 0.6
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(product, "ENTRIES", max(cells % 1000, 1))
        thin = left.only(kept)
    assert thin.dense() == pytest.approx(dense * kept)
    sums, bits = thin.gathered(weights, words)
    assert value == pytest.approx(expected[row, column])
    assert sums == pytest.approx(dense @ (weights * kept))
    owner = np.repeat(np.arange(rows), thin.lengths)
    ored = np.zeros((2, rows), np.uint64)
    np.bitwise_or.at(ored, (slice(None), owner), words[:, thin.indices])
    assert np.array_equal(bits, ored)
    factor = rng.random(rows)
    assert left.scaled(factor).dense() == pytest.approx(dense * factor[:, None])
    some = rng.permutation(rows)[: max(rows // 2, 1)]
    assert left.picked(some).dense() == pytest.approx(dense[some])
    assert left.part(rows // 3, rows).dense() == pytest.approx(dense[rows // 3 :])


texts = st.lists(st.text("aé中 \0", max_size=18), max_size=8)


@settings(max_examples=examples(20))
@given(texts, texts)
def test_packed_texts_are_the_texts(some, more):
    one = Packed.joined([Packed.of(some), Packed.of(more)])
    every = [*some, *more]
    assert [*one] == every
    flags = np.arange(len(every)) % 2 == 0
    kept = one.picked(flags).copied()
    assert [*kept] == every[::2]
    assert kept.data.size == sum(len(text.encode()) for text in every[::2])
    assert one.empty.tolist() == [not text for text in every]
    marks = one.marks()
    assert len(set(marks.tolist())) == len(set(every))
    assert marks[flags].tolist() == kept.marks().tolist()  # wherever a text stands
