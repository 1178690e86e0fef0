"""A Redis of one's own, to be killed and emptied: never the machine's."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType

from redis import Redis
from redis.exceptions import RedisError

from tests.sink import free_port

PATIENCE_SECONDS = 30


class PrivateRedis:
    """A server with an append-only file, in a folder that is gone afterwards."""

    def __init__(self) -> None:
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="redis-"))

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def __enter__(self) -> PrivateRedis:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)

    def start(self) -> None:
        """Start it, and return once it answers."""
        self.process = subprocess.Popen(  # noqa: S603  # our own words
            [
                *("redis-server", "--port", str(self.port), "--bind", "127.0.0.1"),
                *("--dir", str(self.folder), "--appendonly", "yes"),
                *("--appendfsync", "everysec", "--maxmemory-policy", "noeviction"),
            ],
            stdout=subprocess.DEVNULL,
        )
        end = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < end:
            try:
                with Redis.from_url(self.url) as asked:
                    asked.ping()
            except RedisError:
                time.sleep(0.05)
            else:
                return
        raise TimeoutError("Redis does not answer.")

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()

    def flush(self) -> None:
        """Forget every task that is queued, and whatever was not acknowledged."""
        with Redis.from_url(self.url) as asked:
            asked.flushall()
