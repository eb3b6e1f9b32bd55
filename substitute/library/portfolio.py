"""The question about many accords: which break a limit, and their mends."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from ..records import Where

if TYPE_CHECKING:
    from ..rules.screened import Screening

from .core import ShelfSource
from .weighing import WeighQuestions


class PortfolioQuestions(WeighQuestions):
    """Many accords held against the rules."""

    def screen(
        self,
        portfolio: str | Path,
        *,
        dose: float,
        since: str | None = None,
        mend: str | Path | None = None,
        shelf: ShelfSource = None,
        force: bool = False,
        workers: int | None = None,
        progress: Any = None,
        **where: Unpack[Where],
    ) -> Screening:
        """Which accords of a folder, a long CSV or XLSX, or a Parquet file break a limit; see
        :func:`substitute.rules.screening.screen`.

        ``since`` names the older set to compare with; ``mend`` a folder for adjusted copies of what is
        broken (from ``shelf`` if given).
        """
        from ..rules.changes import compare_with
        from ..rules.screening import screen
        from ..tables.portfolios import Portfolio

        situation = self.judged_in(dose=dose, **where)
        context, shelf = situation.context, self.shelf_for(shelf)
        named = {"product": where.get("product"), "category": where.get("category")}
        older = compare_with(self.tables, context, since, **named) if since is not None else None
        source = Portfolio(portfolio, self.names, self.tables.materials)
        found = screen(situation.compiled, source, dose, since=older, workers=workers, progress=progress)
        if mend is None:
            return found
        from ..accords.mend import check_folder, worst_first
        from ..accords.mend import mend as mend_all

        files = check_folder(mend, portfolio, found.broken_names, force=force)
        mended = []
        for one in mend_all(
            source.accords(files),
            lambda accord: self.adjust(
                accord, because="limit", shelf=shelf, rivals=0, hold_dose=True, dose=dose, **where
            ),
            files,
            force=force,
        ):
            mended.append(one.to_dict())
            if progress:
                progress(len(mended) / len(files), len(mended), len(mended))
        return replace(found, mended=tuple(dict(one) for one in worst_first(mended)))
