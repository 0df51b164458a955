"""The accelerator: small answers are sent at once, then the server does as it always does."""

from __future__ import annotations

from typing import Any

import pytest
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection

from labkit.widgets.nodelay import NoDelayWebsocketConnection


class Handler:
    """Stands in for the server's websocket handler."""

    def __init__(self) -> None:
        self.asked: list[bool] = []

    def set_nodelay(self, on: bool) -> None:
        self.asked.append(on)


def test_the_delay_is_off_before_the_kernel_is_connected(monkeypatch: pytest.MonkeyPatch) -> None:
    handler = Handler()
    connection: Any = NoDelayWebsocketConnection.__new__(NoDelayWebsocketConnection)
    monkeypatch.setattr(NoDelayWebsocketConnection, "websocket_handler", handler)
    seen: list[list[bool]] = []

    def connect(_: Any) -> str:
        seen.append(list(handler.asked))
        return "connected"

    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", connect)
    assert connection.connect() == "connected"
    assert seen == [[True]]
