"""A websocket between page and kernel that does not hold small answers back.

The kernel answers every edit with three small messages. On a stock server the second
waits until the browser has acknowledged the first, about 40 ms (Nagle's algorithm and
the delayed acknowledgement, RFC 896 and RFC 1122 section 4.2.3.2). ``labkit lab``
starts the server with this class; on any other Jupyter server it is switched on by

    --ServerApp.kernel_websocket_connection_class=\
labkit.widgets.nodelay.NoDelayWebsocketConnection

in an environment where labkit can be imported. Nothing depends on it.
"""

from __future__ import annotations

from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection

__all__ = ["NoDelayWebsocketConnection"]


class NoDelayWebsocketConnection(ZMQChannelsWebsocketConnection):
    """The server's own connection, with small messages sent at once."""

    def connect(self) -> Any:
        """Send small messages at once, then connect as usual."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
