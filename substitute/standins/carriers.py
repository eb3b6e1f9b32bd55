"""Where a carrier is missing: other carriers, gram for gram."""

from __future__ import annotations

from .amounts import Amount
from .answer import Member, StandIn, SwapAnswer
from .ask import Ask
from .bench import Bench
from .ranking import evidence_alone, in_words
from .words import evidence_reason

CARRIER_SCORE = 0.4  # any carrier may do; which one dissolves what is for the bench to say


def carrier_answer(bench: Bench, ask: Ask, top: int, notes: list[str]) -> SwapAnswer:
    """Carriers in the place of a carrier, documented ones first."""
    tables = bench.tables
    held = set(ask.shelf.materials()) if ask.shelf else None
    around = bench.known.around(ask.missing, ask.because)
    found = []
    for name, material in tables.materials.items():
        if material.kind != "solvent" or name == ask.missing or not material.stocked:
            continue
        if held is None or name in held:
            ground = around.get(name)
            found.append((evidence_alone(ground.weight if ground else 0.0, CARRIER_SCORE), name, ground))
    found.sort(key=lambda item: (-item[0], item[1]))
    answers = []
    for rank, (value, name, ground) in enumerate(found[:top], 1):
        documented = ground is not None and ground.kind == "documented"
        why = "a carrier has no smell to match: weigh it gram for gram"
        answers.append(
            StandIn(
                rank,
                (Member(name, Amount(1.0, 1.0, 1.0, "share")),),
                value,
                in_words(value),
                1.0,
                "documented" if documented else "profile",
                (why, evidence_reason(tables, ground)) if ground else (why,),
                ("check that everything dissolves, the flash point, and that the product may hold it",),
                sources=tuple(dict.fromkeys(row.source for row in ground.rows)) if ground else (),
            )
        )
    note = f"{tables.materials[ask.missing].name} is a carrier: other carriers are listed"
    return SwapAnswer(ask.missing, ask.because, tuple(answers), None, (*notes, note), tables)
