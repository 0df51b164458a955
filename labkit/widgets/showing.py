"""A widget in a notebook, with a still picture of it beside that stays when it is gone.

The picture is an output of its own, because a notebook that is opened without a
kernel shows nothing else; the live page hides it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from IPython.display import HTML, DisplayHandle, display, publish_display_data

from labkit.widgets.static import still_bundle_html

__all__ = ["WithPicture"]

MOST_PICTURES = 4
"""Places of one notebook whose picture is kept up to date."""


class WithPicture:
    """What widgets share that leave a still picture of themselves in the notebook.

    A widget sets ``picture_id`` before it is shown, gives the picture by ``_still``, and
    asks for ``_renew_pictures`` when it has changed.
    """

    picture_id: str
    _still: Callable[[], str]

    def _aside(self) -> str:
        """The picture under the name by which its live widget hides it."""
        return f'<div class="lk-aside" data-sheet="{self.picture_id}">{self._still()}</div>'

    def _repr_mimebundle_(self, **kwargs: Any) -> tuple[dict[str, Any], dict[str, Any]] | None:
        bundle = super()._repr_mimebundle_(**kwargs)  # type: ignore[misc]
        if bundle is None:
            return None
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        return data | {"text/html": still_bundle_html(self.picture_id, self._still())}, metadata

    def _ipython_display_(self) -> None:
        bundle = self._repr_mimebundle_()
        if bundle is None:
            return
        publish_display_data(data=bundle[0], metadata=bundle[1])  # type: ignore[no-untyped-call]
        shown: DisplayHandle | None = display(HTML(self._aside()), display_id=True)  # type: ignore[no-untyped-call]
        if shown is not None:
            self._pictures = [*self._shown(), shown][-MOST_PICTURES:]

    def _renew_pictures(self) -> None:
        """Put the picture as it is now in the place of the old ones."""
        for shown in self._shown():
            shown.update(HTML(self._aside()))  # type: ignore[no-untyped-call]

    def _shown(self) -> list[DisplayHandle]:
        found: list[DisplayHandle] = self.__dict__.get("_pictures", [])
        return found
