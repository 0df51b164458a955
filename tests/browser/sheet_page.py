"""A mixing sheet in a page, as a hand and an eye meet it."""

from __future__ import annotations

import json
from typing import Any

from tests.browser.lab import run_code

SETTLED = """root => {
  const sheet = document.querySelectorAll('.lk-sheet')[root];
  return sheet && sheet.querySelector('.lk-mark').dataset.state === 'confirmed'; }"""


class SheetPage:
    """The ``n``-th sheet of a notebook page."""

    def __init__(self, page: Any, n: int = 0) -> None:
        self.page, self.n = page, n
        self.root = page.locator(".lk-sheet").nth(n)

    def settle(self) -> None:
        """Wait until Python has confirmed what is shown."""
        self.page.wait_for_function(SETTLED, arg=self.n, timeout=20_000)

    def row(self, name: str) -> Any:
        """The row of a material."""
        return self.root.locator(f'.lk-row[aria-label^="{name}, phase"]')

    def slider(self, name: str) -> Any:
        """Its slider."""
        return self.row(name).locator(".lk-slider")

    def box(self, name: str) -> Any:
        """Its number box."""
        return self.row(name).locator(".lk-box")

    def shown(self, name: str) -> str:
        """The share as it stands in the box."""
        return str(self.box(name).input_value())

    def total(self) -> str:
        """The total under the lines."""
        return str(self.root.locator(".lk-total").text_content())

    def names(self) -> list[str]:
        """Materials from top to bottom."""
        found: list[str] = self.root.locator(".lk-name").all_text_contents()
        return found

    def read(self, name: str) -> str:
        """A read-out: value, unit and words."""
        head = self.root.locator(f'[data-read="{name}"] .lk-read-head')
        return " ".join(str(head.inner_text()).split())

    def hold(self, name: str) -> tuple[float, float]:
        """Press the mouse on a slider's index; where it stands."""
        slider = self.slider(name)
        slider.scroll_into_view_if_needed()
        x, y = slider.evaluate(
            """e => { const b = e.getBoundingClientRect();
              return [b.x + 6 + (b.width - 12) * (e.value / e.max), b.y + b.height / 2]; }"""
        )
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        return x, y

    def drag(self, name: str, pixels: int, steps: int = 12) -> None:
        """Drag a slider by so many pixels and let go."""
        x, y = self.hold(name)
        for step in range(1, steps + 1):
            self.page.mouse.move(x + pixels * step / steps, y)
        self.page.mouse.up()
        self.settle()

    def type(self, name: str, text: str) -> None:
        """Type a share into the box and press Enter."""
        self.box(name).fill(text)
        self.box(name).press("Enter")
        self.settle()

    def menu(self, name: str) -> Any:
        """Open a line's menu."""
        self.row(name).locator(".lk-more").click()
        return self.row(name).locator(".lk-menu")

    def python(self, expression: str) -> Any:
        """What Python has, as plain values."""
        printed = run_code(self.page, f"import json; print(json.dumps({expression}))")
        return json.loads(printed)

    def shares(self) -> dict[str, str]:
        """Material → share, as Python has them."""
        found: dict[str, str] = self.python(
            "{x.material: str(x.percent) for x in sheet.formula.lines}"
        )
        return found
