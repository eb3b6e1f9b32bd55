"""The question about many accords: which break a limit, and their mends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..rules.screening import Screening

from .accords import AccordQuestions
from .core import Day, ShelfSource


class PortfolioQuestions(AccordQuestions):
    """Many accords held against the rules."""

    def screen(
        self,
        portfolio: str | Path,
        *,
        dose: float,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
        since: str | None = None,
        mend: str | Path | None = None,
        shelf: ShelfSource = None,
        force: bool = False,
        workers: int | None = None,
        progress: Any = None,
    ) -> Screening:
        """Which accords of a folder, a long CSV or XLSX, or a Parquet file break a limit; see
        :func:`substitute.rules.screening.screen`.

        ``since`` names the older set to compare with; ``mend`` a folder for adjusted copies of what is
        broken (from ``shelf`` if given).
        """
        from ..rules.changes import compare_with
        from ..rules.screening import screen
        from ..tables.portfolios import Portfolio

        situation = self.judged_in(
            product=product, category=category, dose=dose, market=market, on=on, limits=limits
        )
        context, shelf = situation.context, self.shelf_for(shelf)
        older = (
            compare_with(self.tables, context, since, product=product, category=category)
            if since is not None
            else None
        )
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
                accord,
                because="limit",
                shelf=shelf,
                dose=dose,
                category=category,
                product=product,
                market=market,
                limits=limits,
                on=on,
                rivals=0,
                hold_dose=True,
            ),
            files,
            force=force,
        ):
            mended.append(one.to_dict())
            if progress:
                progress(len(mended) / len(files), len(mended), len(mended))
        return replace(found, mended=tuple(dict(one) for one in worst_first(mended)))
