"""The evaluation itself: an honest exam, and answers that stay as good as README says
(``tests/evaluation/evaluate.py`` prints all).
"""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import substitute
from substitute.standins import train

sys.path.insert(0, str(Path(__file__).parent / "evaluation"))
import measure
import robust


def test_the_exam_is_sound(library):
    questions = measure.read_questions()
    known = library.tables.materials
    assert len(questions) >= 150
    assert len({(q.missing, q.because) for q in questions}) == len(questions)
    accepted = {}
    for question in questions:
        accepted.setdefault(question.missing, set()).update(question.accepted)
    aside = measure.mirrored(accepted)
    for question in questions:
        split = "mirrored" if question.missing in aside else measure.split_of(question.missing)
        assert question.split == split
        assert {question.missing, *question.accepted, *question.rejected} <= set(known)
        assert not set(question.accepted) & set(question.rejected)
        assert question.missing not in question.accepted
    held = sum(q.split == "held-out" for q in questions) / len(questions)
    assert 0.3 < held < 0.5


def test_answers_on_open_questions(library):
    """Floors under what was measured; held-out figures are printed by ``evaluate.py`` and gate nothing."""
    row = measure.ask(measure.read_questions("open"), measure.ranked(library)).row(draws=50)
    assert row["hit@1"][0] >= 0.85
    assert row["hit@3"][0] >= 0.95


@pytest.mark.slow
def test_without_their_rows_the_ranking_beats_similarity(library):
    questions = measure.read_questions("open")
    bare = measure.without_rows(library, {q.missing for q in questions})
    assert not any(q.missing == row.missing for q in questions for row in bare.tables.swaps)
    mine = measure.ask(questions, measure.ranked(bare)).row(draws=50)
    assert mine["hit@3"][0] >= 0.85


def test_a_shelf_of_thirty_brings_its_one_answer_first(library):
    found = measure.from_shelves(library, measure.read_questions("open"))
    right = [one for one in found if one.right]
    assert len(right) >= 0.95 * len(found)
    assert sum(one.score >= 0.3 for one in right) >= 0.85 * len(right)


def test_intervals_are_exact_at_the_ends():
    """Clopper and Pearson: 0 of 10 gives 0 to 1 - 0.025 ** (1 / 10), a closed form."""
    assert measure.clopper_pearson(0, 10) == (0.0, pytest.approx(1 - 0.025**0.1))
    assert measure.clopper_pearson(10, 10) == (pytest.approx(0.025**0.1), 1.0)
    scores = measure.Scores(np.ones(10), np.zeros(10), tuple("abcdefghij"))
    assert scores.row(draws=10)["hit@1"] == (1.0, pytest.approx(0.025**0.1), 1.0)


@pytest.mark.slow
def test_training_gives_the_shipped_bytes_however_it_is_called(tmp_path):
    """From another folder, with a person's own tables in the environment: the same, or it refuses and
    writes nothing.
    """
    (tmp_path / "swaps.csv").write_text(
        "missing,stand_in,because,grams_per_gram,note,basis,source\nvanillin,linalool,unavailable,1,,memory,memory\n"
    )
    environment = os.environ | {
        "SUBSTITUTE_TABLES": str(tmp_path),
        "PYTHONPATH": str(Path(substitute.__file__).parents[1]),
    }
    command = [sys.executable, "-W", "ignore", "-m", "substitute.standins.train", "--check"]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "the shipped weights are these" in done.stdout


def test_training_refuses_without_the_open_questions(tmp_path, monkeypatch, capsys):
    shipped = tmp_path / "weights.json"
    monkeypatch.setattr(train, "QUESTIONS", tmp_path / "questions.csv")
    monkeypatch.setattr(train, "SHIPPED", shipped)
    assert train.main([]) == 2
    assert "questions" in capsys.readouterr().err
    assert not shipped.exists()


@pytest.mark.slow
def test_without_evidence_the_ranking_still_beats_plain_baselines(plain):
    questions = measure.read_questions("open")
    mine = measure.ask(questions, measure.ranked(plain)).row(draws=50)["MRR"][0]
    assert mine > measure.ask(questions, measure.raw_cosine(plain)).row(draws=50)["MRR"][0]
    assert mine > measure.ask(questions, measure.most_popular(plain)).row(draws=50)["MRR"][0] + 0.5


def test_similarity_follows_judged_likeness(plain):
    from scipy.stats import spearmanr

    pairs = [
        (plain.space.similarity[plain.space.row[a], plain.space.row[b]], like)
        for a, b, like in measure.read_pairs()
    ]
    assert spearmanr(*zip(*pairs))[0] >= 0.8


def test_scores_are_calibrated_in_order(library):
    """Of the answers scored higher, more are accepted."""
    found = []
    for question in measure.read_questions("open"):
        for answer in library.swap(question.missing, because=question.because, top=5).stand_ins:
            found.append((answer.score, answer.members[0].id in question.accepted))
    scores, hit = np.array([s for s, _ in found]), np.array([h for _, h in found])
    parts = [
        hit[(scores >= low) & (scores < high)].mean()
        for low, high in ((0.9, 1.01), (0.3, 0.9), (0.0, 0.3))
        if ((scores >= low) & (scores < high)).any()
    ]
    assert parts == sorted(parts, reverse=True)


@pytest.mark.slow
def test_adjusted_accords_hold_when_figures_are_wrong():
    """A small run; the full one is `python tests/evaluation/robust.py`."""
    found = robust.run(24, 12, seed=5)
    assert all(outcome.within_known for outcome in found)
    differences = [one for outcome in found for one in outcome.differences]
    assert sum(one < -robust.CLEAR for one in differences) <= 0.2 * len(differences)
    assert sum(differences) > 0
    assert "clearly worse" in robust.told(found)
