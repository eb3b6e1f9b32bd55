"""What to ask a supplier: one line for each thing that is not on file, with an empty field, and the answers
back as a person's tables.

Two kinds of question: how much a lot of a natural or base holds of something limited (into
``constituents.csv``), and what a Standard
allows where its figure is not on file (into ``limits.csv``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import ClassVar

from ..errors import Complaint, TableError, complain
from ..figures import percent
from ..frozen import frozen
from ..records import Accord, Tables
from ..shown import Shown
from ..tables.files import read_rows
from ..tables.rows import Row
from ..tables.writing import to_csv
from .kinds import FIGURE, LABEL, NEVER, kind_of
from .rule import substance_name
from .situation import Situation

HOLDS, ALLOWS = "constituents", "limits"
COLUMNS = ("material", "cas", "question", "answer_pct", "table", "about", "substance", "category")
NEEDED = ("answer_pct", "table", "about", "substance", "category")


@frozen
class Question:
    """One thing to ask; ``about`` is the natural or the limit set that the answer belongs to, ``used_in``
    the accords that need it.
    """

    material: str
    name: str
    cas: str
    question: str
    table: str
    about: str
    substance: str
    category: str = ""
    used_in: tuple[str, ...] = ()

    def row(self) -> tuple[object, ...]:
        """Cells under :data:`COLUMNS`, the answer empty."""
        told = {**self.to_dict(), "material": self.name}  # suppliers know no ids of ours
        return tuple(told[column] for column in COLUMNS)

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.material,
            "name": self.name,
            "cas": self.cas,
            "question": self.question,
            "answer_pct": None,
            "table": self.table,
            "about": self.about,
            "substance": self.substance,
            "category": self.category,
            "used_in": list(self.used_in),
        }


@frozen
class Questions(Shown):
    """All that ``ask`` answers."""

    asked_by: ClassVar[str] = "ask"

    product: str
    rows: tuple[Question, ...]

    def to_dict(self) -> dict[str, object]:
        return {"product": self.product, "questions": [row.to_dict() for row in self.rows]}

    def csv(self) -> str:
        """The page to send, to be filled in and read back by :func:`answered`."""
        return to_csv(COLUMNS, [row.row() for row in self.rows])


def questions(situation: Situation, accords: Iterable[Accord]) -> Questions:
    """Everything in ``accords`` that the rules of the situation ask for and nothing on file answers, each
    asked once.
    """
    found: dict[tuple[str, ...], Question] = {}
    users: dict[tuple[str, ...], dict[str, None]] = {}
    for accord in accords:
        for material, parts in accord.active().items():
            for one in _of_material(situation, material) if parts > 0 else ():
                key = one.table, one.about, one.substance, one.category  # one limit is asked for once
                if key not in found or one.material == one.substance:
                    found[key] = one
                users.setdefault(key, {})[accord.name] = None
    rows = [_used(one, tuple(users[key])) for key, one in found.items()]
    return Questions(
        situation.context.name, tuple(sorted(rows, key=lambda row: (row.name, row.table, row.substance)))
    )


def _used(one: Question, names: tuple[str, ...]) -> Question:
    return Question(
        one.material,
        one.name,
        one.cas,
        one.question,
        one.table,
        one.about,
        one.substance,
        one.category,
        names,
    )


def _of_material(situation: Situation, material: str) -> Iterator[Question]:
    tables, compiled = situation.tables, situation.compiled
    record, entry = tables.materials[material], compiled.entry(material)
    for number in sorted(entry.open):
        term = compiled.terms[number]
        if term.how in (NEVER, LABEL) or not kind_of(term.rule).maximum:
            continue
        rule, category = term.rule, _category(situation, term.rule.limit_set)
        substance = substance_name(tables, rule.substance)
        share = situation.exposure.share(material, rule.substance)
        holds = (
            ""
            if share.via == "itself"
            else f" (up to {percent(100.0 * share.high)} of this material by our figures)"
        )
        yield Question(
            material,
            record.name,
            record.main_cas,
            f"What is the highest percent of {substance}{holds} that {rule.limit_set} allows in a "
            f"finished product of "
            f"category {category}? Please send the certificate or the page that says so.",
            ALLOWS,
            rule.limit_set,
            rule.substance,
            category,
        )
    for substance in _unassessed(situation, material):
        wanted = tables.materials[substance]
        cas = f" (CAS {wanted.main_cas})" if wanted.main_cas else ""
        yield Question(
            material,
            record.name,
            record.main_cas,
            f"How much {wanted.name}{cas} does this lot hold at most, in percent by mass? 0 if it was "
            f"looked for and not found.",
            HOLDS,
            material,
            substance,
        )


def _unassessed(situation: Situation, material: str) -> tuple[str, ...]:
    """Molecules that a rule asks of ``material`` and nobody looked for; the members of a group each."""
    exposure = situation.exposure
    found: dict[str, None] = {}
    for substance in situation.unassessed(material):
        for member in exposure.members(substance):
            if not exposure.composed(member) and exposure.unassessed((material,), member):
                found[member] = None
    return tuple(found)


def _category(situation: Situation, limit_set: str) -> str:
    return next(one.category for one in situation.context.sets if one.limit_set.id == limit_set)


def answered(tables: Tables, path: str | Path) -> dict[str, str]:
    """The filled-in page as a person's own tables: file name -> CSV text; lines without an answer are left
    out.

    Raises :class:`~substitute.errors.TableError` for a figure that is none or stands outside 0 to 100, or
    an unknown table or name.
    """
    limits: list[Sequence[object]] = []
    holds: list[Sequence[object]] = []
    complaints: list[Complaint] = []
    for row in read_rows(path, NEEDED, COLUMNS):
        text = row.cells.get("answer_pct", "").strip().rstrip("%").strip().replace(",", ".")
        if not text:
            continue
        try:
            value = _percent(row, text)
            substance = _known(tables, row)
        except TableError as error:
            complaints += error.complaints
            continue
        about = row.cells["about"].strip()
        if row.cells["table"].strip() == HOLDS:
            holds.append((about, substance, None, value, value))
        else:
            limits.append(
                (about, substance, row.cells["category"].strip(), value, FIGURE, "told by the supplier")
            )
    if complaints:
        raise TableError(complaints)
    found = {}
    if limits:
        found["limits.csv"] = to_csv(
            ("limit_set", "substance", "category", "max_pct", "rule", "note"), limits
        )
    if holds:
        columns = ("natural", "constituent", "low_pct", "typical_pct", "high_pct")
        found["constituents.csv"] = to_csv(columns, holds)
    return found


def _percent(row: Row, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0.0 <= value <= 100.0:
        raise complain(row.file, row.number, "answer_pct", f"'{text}' is no percentage: allowed is 0 to 100")
    return value


def _known(tables: Tables, row: Row) -> str:
    table, about, substance = (row.cells[name].strip() for name in ("table", "about", "substance"))
    if table not in (HOLDS, ALLOWS):
        raise complain(row.file, row.number, "table", f"'{table}' is not one of {HOLDS}, {ALLOWS}")
    if about not in (tables.materials if table == HOLDS else tables.limit_sets):
        raise complain(row.file, row.number, "about", f"'{about}' is not on file")
    if substance not in tables.materials and substance not in tables.groups:
        raise complain(row.file, row.number, "substance", f"'{substance}' is neither a material nor a group")
    return substance
