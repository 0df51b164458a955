"""A real PostgreSQL of its own for the tests: an ordinary user, a temporary folder.

All durability is on (fsync, full_page_writes and synchronous_commit stay as
PostgreSQL ships them); passwords are asked for, over the loopback and the socket
alike. As root the server runs as ``postgres`` or, where that is missing, ``nobody``,
because PostgreSQL refuses root.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["Server", "running", "server_programs", "wanted"]

_START_S = 60


def server_programs() -> Path | None:
    """The folder with initdb and postgres of the newest version that is installed."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: int(path.parts[-3]) if path.parts[-3].isdecimal() else 0,
    )
    if found:
        return found[-1].parent
    named = shutil.which("initdb")
    return Path(named).parent if named else None


def wanted() -> Path:
    """The programs; skips where there are none, unless everything is required."""
    programs = server_programs()
    if programs is not None:
        return programs
    if os.environ.get("LABKIT_REQUIRE_ALL"):
        pytest.fail("LABKIT_REQUIRE_ALL is set, and no PostgreSQL server is installed")
    pytest.skip("no PostgreSQL server is installed (initdb was not found)")


@dataclass(slots=True)
class Server:
    """A server that runs, and how it is reached by whoever runs it."""

    programs: Path
    folder: Path
    port: int
    password: str
    process: subprocess.Popen[bytes] | None = None

    def address(self, database: str = "studio", login: str = "", password: str = "") -> str:
        """The address of a database, as the administrator or as a person."""
        who = f"{login}:{password}" if login else f"chief:{self.password}"
        return f"postgresql+psycopg://{who}@127.0.0.1:{self.port}/{database}"

    def socket_address(self, database: str) -> str:
        """The same server through its socket."""
        who, where = f"chief:{self.password}", f"host={self.folder}&port={self.port}"
        return f"postgresql+psycopg://{who}@/{database}?{where}"

    def start(self) -> None:
        """Start it, and wait until it answers."""
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [self.programs / "postgres", "-D", self.folder / "data"],
                stdout=log,
                stderr=log,
                cwd=self.folder,
                **_ordinary(),
            )
        end = time.monotonic() + _START_S
        while time.monotonic() < end:
            if self.process.poll() is not None:
                break
            ready = [self.programs / "pg_isready", "-q", "-h", "127.0.0.1", "-p", str(self.port)]
            if subprocess.run(ready, check=False).returncode == 0:
                return
            time.sleep(0.05)
        raise RuntimeError((self.folder / "log").read_text(errors="replace")[-2000:])

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """Stop it; SIGQUIT is the immediate stop, which writes nothing to the disk any more."""
        if self.process is None:
            return
        self.process.send_signal(how)
        try:
            self.process.wait(_START_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(_START_S)
        self.process = None


def _ordinary() -> dict[str, object]:
    """The user under which the server runs, where the tests run as root."""
    if os.geteuid():
        return {}
    with contextlib.suppress(KeyError):
        return {"user": pwd.getpwnam("postgres").pw_uid, "group": "postgres", "extra_groups": []}
    return {"user": pwd.getpwnam("nobody").pw_uid, "extra_groups": []}


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextlib.contextmanager
def running(programs: Path, connections: int = 100) -> Iterator[Server]:
    """A new server, stopped and removed at the end whatever happens."""
    folder = Path(tempfile.mkdtemp(prefix="labkit-pg-"))
    server = Server(programs, folder, _free_port(), secrets.token_hex(8))
    try:
        user = _ordinary()
        secret = folder / "secret"
        secret.write_text(server.password, encoding="ascii")
        if "user" in user:
            for path in (folder, secret):
                os.chown(path, int(str(user["user"])), -1)
        command = [programs / "initdb", "-D", folder / "data", "-U", "chief", "-A", "scram-sha-256"]
        command += ["--pwfile", secret, "-E", "UTF8", "--locale=C"]
        made = subprocess.run(command, capture_output=True, cwd=folder, check=False, **user)  # type: ignore[call-overload]
        if made.returncode:
            raise RuntimeError(made.stderr.decode(errors="replace"))
        with (folder / "data" / "postgresql.conf").open("a", encoding="utf-8") as settings:
            settings.write(
                f"\nlisten_addresses = '127.0.0.1'\nport = {server.port}\n"
                f"unix_socket_directories = '{folder}'\nmax_connections = {connections}\n"
            )
        server.start()
        yield server
    finally:
        server.stop(signal.SIGQUIT)
        shutil.rmtree(folder, ignore_errors=True)
