"""A widget in a notebook, with a still picture of it beside that stays when it is gone.

The picture is an output of its own, because a notebook that is opened without a
kernel shows nothing else; the live page hides it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from IPython.display import HTML, DisplayHandle, display, publish_display_data

__all__ = ["aside_html", "show_with_aside", "update_asides"]

Bundle = tuple[dict[str, Any], dict[str, Any]]


def aside_html(name: str, still: str) -> str:
    """A picture under the name by which its live widget hides it."""
    return f'<div class="lk-aside" data-sheet="{name}">{still}</div>'


def show_with_aside(bundle: Bundle, aside: str) -> DisplayHandle | None:
    """Publish a widget's bundle and its picture; the handle keeps the picture up to date."""
    publish_display_data(data=bundle[0], metadata=bundle[1])  # type: ignore[no-untyped-call]
    handle: DisplayHandle | None = display(HTML(aside), display_id=True)  # type: ignore[no-untyped-call]
    return handle


def update_asides(handles: Sequence[DisplayHandle], aside: str) -> None:
    """Put a new picture in the place of the old ones."""
    for handle in handles:
        handle.update(HTML(aside))  # type: ignore[no-untyped-call]
