"""The files of a check as they were given out, to the letter, wherever they are written again."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from bandscan.pipeline.files import PLOTS, Text, library_address, share_plots

_LIBRARY = re.compile(r'<script src="((?:\.\./)*' + re.escape(PLOTS) + ')"></script>')


def frozen(texts: Mapping[str, Text], address: str) -> dict[str, str]:
    """Texts with their pages drawn; `address` is that of the plots' library from them."""
    return {name: text if isinstance(text, str) else text(address) for name, text in texts.items()}


def again(papers: Mapping[str, str], folder: Path, top: Path) -> dict[str, Text]:
    """Texts to write into a folder that are to the letter those that were given out; the plots' library is put where they look.

    A page that would look for it outside of `top` gets another address, for nothing is written there.

    Raises:
        InputError: the library cannot be written.
    """
    texts: dict[str, Text] = {}
    for name, text in papers.items():
        found = _LIBRARY.search(text) if name.endswith(".html") else None
        texts[name] = text
        if found is not None:
            place = (folder.resolve() / found[1]).parent
            place = place.resolve()
            if place == top.resolve() or top.resolve() in place.parents:
                share_plots(place)
            else:
                texts[name] = text.replace(found[1], library_address(folder, top))
    return texts
