"""The bench book: a person's own folder of plain files, and what their nose taught.

``store`` keeps the folder, ``records`` says what stands in it, ``bottles`` and ``stock`` are the shelf,
``said`` reads what a person said, ``learn`` and ``profile`` turn it into figures, ``overlay`` lays these
over the tables, ``shown`` tells what was learned from what. Ours is laid under it and never changed.
"""
