"""A JupyterLab of the test's own, and a page that waits on states."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from types import TracebackType
from typing import Any, Self

CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-renderer-backgrounding",
    "--disable-background-timer-throttling",
]
NO_DELAY = (
    "--ServerApp.kernel_websocket_connection_class="
    "labkit.widgets.nodelay.NoDelayWebsocketConnection"
)
KERNEL_READY = """() => {
  const k = jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel;
  return k && k.connectionStatus === 'connected' && k.status === 'idle'; }"""
ALL_RUN = """() => {
  const panel = jupyterapp.shell.currentWidget, k = panel.sessionContext.session?.kernel;
  const code = panel.content.widgets.filter(
    w => w.model.type === 'code' && w.model.sharedModel.getSource().trim());
  return code.every(w => w.model.executionCount) && k && k.status === 'idle'; }"""
ERRORS = """() => [...document.querySelectorAll(
  '.jp-Notebook [data-mime-type="application/vnd.jupyter.error"]')].map(e => e.textContent)"""


def chromium() -> str | None:
    """The Chromium of this machine, if there is one."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Lab:
    """JupyterLab on a free loopback port, with settings of its own and a random token."""

    def __init__(self, root: Path, *args: str) -> None:
        self.root, self.args = root, args
        self.private = Path(tempfile.mkdtemp(prefix="lab-"))
        self.token = secrets.token_hex(16)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.base = f"http://127.0.0.1:{self.port}"
        self._settings()

    def _settings(self) -> None:
        config = self.private / "config"
        off = {
            "@jupyterlab/apputils-extension:announcements": True,
            "@jupyterlab/extensionmanager-extension": True,
        }
        written: dict[str, dict[str, Any]] = {
            "labconfig/page_config.json": {"disabledExtensions": off},
            "lab/user-settings/@jupyterlab/docmanager-extension/plugin.jupyterlab-settings": {
                "autosave": False
            },
            "lab/user-settings/@jupyterlab/notebook-extension/tracker.jupyterlab-settings": {
                "windowingMode": "contentVisibility"
            },
        }
        for name, values in written.items():
            path = config / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(values))

    def __enter__(self) -> Self:
        config = self.private / "config"
        env = os.environ | {
            "JUPYTER_CONFIG_DIR": str(config),
            "JUPYTER_RUNTIME_DIR": str(self.private / "runtime"),
            "JUPYTERLAB_SETTINGS_DIR": str(config / "lab" / "user-settings"),
            "JUPYTERLAB_WORKSPACES_DIR": str(self.private / "workspaces"),
            "IPYTHONDIR": str(self.private / "ipython"),
            "XDG_STATE_HOME": str(self.private / "state"),
        }
        self.log = (self.private / "lab.log").open("wb")
        command = [
            *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
            "--ServerApp.ip=127.0.0.1",
            f"--ServerApp.port={self.port}",
            "--ServerApp.port_retries=0",
            f"--IdentityProvider.token={self.token}",
            f"--ServerApp.root_dir={self.root}",
            "--LabApp.expose_app_in_browser=True",
            "--LabApp.news_url=None",
            *self.args,
        ]
        self.process = subprocess.Popen(
            command, env=env, stdout=self.log, stderr=self.log, cwd=self.root
        )
        try:
            self._wait()
        except BaseException:
            self._stop()
            raise
        return self

    def _wait(self, seconds: float = 90) -> None:
        end = time.monotonic() + seconds
        address = f"{self.base}/api/status?token={self.token}"
        while time.monotonic() < end and self.process.poll() is None:
            try:
                with urllib.request.urlopen(address, timeout=3) as answer:
                    if answer.status == 200:
                        return
            except OSError:
                time.sleep(0.1)
        log = (self.private / "lab.log").read_text(errors="replace")
        raise RuntimeError(f"JupyterLab did not start:\n{log[-2000:]}")

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop()

    def _stop(self) -> None:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(15)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        self.log.close()
        shutil.rmtree(self.private, ignore_errors=True)


def write_notebook(path: Path, cells: list[str]) -> None:
    """A notebook with code cells and no outputs."""
    book = {
        "cells": [
            {
                "cell_type": "code",
                "id": f"cell-{n}",
                "metadata": {},
                "source": source,
                "outputs": [],
                "execution_count": None,
            }
            for n, source in enumerate(cells)
        ],
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    path.write_text(json.dumps(book))


def open_notebook(page: Any, lab: Lab, name: str, *, run: bool = True) -> None:
    """Open a notebook and, unless told otherwise, run all of its cells."""
    page.goto(f"{lab.base}/lab/tree/{name}?reset&token={lab.token}", timeout=120_000)
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=120_000)
    page.wait_for_function(
        "() => window.jupyterapp?.shell.currentWidget?.sessionContext", timeout=60_000
    )
    page.evaluate("() => jupyterapp.shell.currentWidget.context.ready")
    page.wait_for_function(KERNEL_READY, timeout=60_000)
    page.evaluate("() => jupyterapp.shell.collapseLeft()")
    if run:
        page.evaluate("() => jupyterapp.commands.execute('notebook:run-all-cells')")
        page.wait_for_function(ALL_RUN, timeout=120_000)
        failed = page.evaluate(ERRORS)
        if failed:
            raise RuntimeError(f"a cell failed: {failed[0][-1500:]}")


def run_code(page: Any, code: str) -> str:
    """Run code in the notebook's kernel; what it prints."""
    printed: str = page.evaluate(
        """async code => {
          const k = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
          const f = k.requestExecute({ code, store_history: false });
          let out = '';
          f.onIOPub = m => {
            if (m.header.msg_type === 'stream') out += m.content.text;
            if (m.header.msg_type === 'error') out += m.content.ename + ': ' + m.content.evalue;
          };
          await f.done;
          return out; }""",
        code,
    )
    return printed
