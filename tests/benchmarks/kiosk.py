"""Load on a kiosk service, on loopback: nothing lost, nothing doubled, and how long an answer
takes beside a bare "hello" of the same server.

    python -m tests.benchmarks.kiosk load 50 60      # kiosks, seconds
    python -m tests.benchmarks.kiosk hostile 10000   # requests
    python -m tests.benchmarks.kiosk slow 1000 20    # clients that never end a head, seconds
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import httpx

from pairing.ledger import Kind, Ledger
from tests.kiosk.test_guard import hostile
from tests.ledger.making import card, label

PERIOD_S = 0.5
"""Two scans a second from each kiosk."""


class Kiosk:
    """One page: label, card, box, two entries a second."""

    def __init__(self, client: httpx.AsyncClient, number: int) -> None:
        self.client = client
        self.number = number
        self.waits_s: list[float] = []
        self.sealed: list[int] = []
        self.session = ""
        self.count = 0

    async def run(self, until: float) -> None:
        """Pieces, one after the other, until then."""
        answer = await self.client.post("/kiosk/begin", json={})
        self.session = answer.json()["session"]
        await asyncio.sleep((self.number % 50) * PERIOD_S / 50)
        piece = 0
        while time.monotonic() < until:
            piece += 1
            own = self.number * 1_000_000 + piece
            await self.entry("scan", label(own))
            await self.entry("scan", card(own))
            done = await self.entry("box", label(own))
            (one,) = done["finished"]
            if one["advice"] != "seal" or one["is_repeated"]:
                raise SystemExit(f"not sealed: {one}")
            self.sealed.append(one["entry"])

    async def entry(self, kind: str, text: str) -> dict[str, Any]:
        """One scan or keyed number; the next half a second after it began."""
        self.count += 1
        begin = time.monotonic()
        key = f"{self.session[:20]}-{self.count:06}"
        body = {"session": self.session, "kind": kind, "text": text, "key": key}
        answer = await self.client.post("/kiosk/entry", json=body)
        if answer.status_code != 200:
            raise SystemExit(f"{answer.status_code} {answer.text}")
        took = time.monotonic() - begin
        self.waits_s.append(took)
        await asyncio.sleep(max(0.0, PERIOD_S - took))
        return dict(answer.json())


async def _hello(client: httpx.AsyncClient, until: float, waits_s: list[float]) -> None:
    """The bare route, asked at the same rate by one more client, under the same load."""
    while time.monotonic() < until:
        begin = time.monotonic()
        await client.get("/v1/hello")
        waits_s.append(time.monotonic() - begin)
        await asyncio.sleep(0.02)


async def _load(address: str, kiosks: int, seconds: float, pid: int) -> list[int]:
    limits = httpx.Limits(max_connections=kiosks + 10, max_keepalive_connections=kiosks + 10)
    page = {"x-counterfoil": "page", "origin": address.rstrip("/")}
    async with httpx.AsyncClient(
        base_url=address, limits=limits, timeout=30, headers=page
    ) as client:
        quiet: list[float] = []
        await _hello(client, time.monotonic() + 3, quiet)
        used_s = _cpu_s(pid)
        until = time.monotonic() + seconds
        made = [Kiosk(client, number + 1) for number in range(kiosks)]
        loaded: list[float] = []
        memory: list[int] = []
        await asyncio.gather(
            *(one.run(until) for one in made),
            _hello(client, until, loaded),
            _memory(pid, until, memory),
        )
    used_s = _cpu_s(pid) - used_s
    waits = [wait for one in made for wait in one.waits_s]
    sealed = [entry for one in made for entry in one.sealed]
    p99 = _p99(waits)
    print(f"{len(waits)} scans in {seconds:.0f} s, {len(sealed)} pieces sealed")
    print(f"answer: median {1e3 * statistics.median(waits):.1f} ms, p99 {1e3 * p99:.1f} ms")
    print(f"hello, same load: p99 {1e3 * _p99(loaded):.1f} ms; ratio {p99 / _p99(loaded):.2f}")
    print(f"hello, no load:   p99 {1e3 * _p99(quiet):.1f} ms; ratio {p99 / _p99(quiet):.2f}")
    asked = len(waits) + len(loaded)
    print(f"service: {1e3 * used_s / asked:.2f} ms of CPU an answer, {used_s / seconds:.2f} cores")
    shown = memory[:: max(1, len(memory) // 8)]
    print(f"memory (MB) through the run: {' '.join(str(one // 1024) for one in shown)}")
    return sealed


def _cpu_s(pid: int) -> float:
    """Seconds of CPU that the service has used."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def _memory(pid: int, until: float, found_kb: list[int]) -> None:
    while time.monotonic() < until:
        fields = Path(f"/proc/{pid}/status").read_text(encoding="ascii").split("VmRSS:")
        found_kb.append(int(fields[1].split()[0]))
        await asyncio.sleep(1)


def _p99(waits_s: list[float]) -> float:
    return statistics.quantiles(waits_s, n=100)[98]


_SLOW_KIOSKS = 10
_ADDRESSES = 250


async def _never_ends(host: str, port: int, number: int) -> None:
    """A client that sends a byte a second, and comes again a second after it was sent away."""
    source = f"127.0.1.{1 + number % _ADDRESSES}"
    await asyncio.sleep(number % 100 / 100)
    while True:
        with contextlib.suppress(OSError):
            _, writer = await asyncio.open_connection(host, port, local_addr=(source, 0))
            writer.write(b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")
            while not writer.is_closing():
                await asyncio.sleep(1)
                writer.write(b"x")
                await writer.drain()
        await asyncio.sleep(1)


async def _slow_clients(host: str, port: int, count: int) -> None:
    await asyncio.gather(*(_never_ends(host, port, number) for number in range(count)))


async def _scans(address: str, first: int, seconds: float) -> list[Kiosk]:
    page = {"x-counterfoil": "page", "origin": address.rstrip("/")}
    async with httpx.AsyncClient(base_url=address, timeout=30, headers=page) as client:
        made = [Kiosk(client, first + number) for number in range(_SLOW_KIOSKS)]
        until = time.monotonic() + seconds
        await asyncio.gather(*(one.run(until) for one in made))
    return made


def _slow(address: str, count: int, seconds: float, pid: int) -> list[int]:
    """Scans at rest, beside slow clients, and at rest again."""
    parts = httpx.URL(address)
    sealed = []
    for turn, is_slow in enumerate((False, True, False)):
        slow = multiprocessing.get_context("spawn").Process(
            target=_run_slow_clients, args=(parts.host, parts.port, count)
        )
        if is_slow:
            slow.start()
            time.sleep(5)
        used_s = _cpu_s(pid)
        try:
            made = asyncio.run(_scans(address, 1 + turn * 100, seconds))
        finally:
            used_s = _cpu_s(pid) - used_s
            if is_slow:
                slow.terminate()
                slow.join()
        waits = [wait for one in made for wait in one.waits_s]
        sealed += [entry for one in made for entry in one.sealed]
        print(
            f"{count if is_slow else 0} slow clients: {len(waits)} scans, none refused, median "
            f"{1e3 * statistics.median(waits):.1f} ms, p99 {1e3 * _p99(waits):.1f} ms; the service "
            f"used {used_s / seconds:.2f} cores"
        )
    return sealed


def _run_slow_clients(host: str, port: int, count: int) -> None:
    asyncio.run(_slow_clients(host, port, count))


def _hostile(address: str, count: int) -> None:
    codes: dict[int, int] = {}
    slowed = 0
    with httpx.Client(base_url=address, timeout=60) as client:
        for seed in range(count):
            method, path, headers, body = hostile(seed)
            answer = client.request(method, path, headers=headers, content=body)
            while answer.status_code == 429 and path != "/enter":
                # Also refused for coming too fast, which is no test of the rest: sent again.
                slowed += 1
                time.sleep(0.5)
                answer = client.request(method, path, headers=headers, content=body)
            codes[answer.status_code] = codes.get(answer.status_code, 0) + 1
            if "Traceback" in answer.text or answer.status_code == 500:
                raise SystemExit(f"{seed}: {answer.text[:300]}")
    print(f"{count} hostile requests: {dict(sorted(codes.items()))}; slowed {slowed} times")


def main() -> None:
    """Start a service, load it, and look at its ledger."""
    what, count = sys.argv[1], int(sys.argv[2])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.db"
        command = [sys.executable, "-c", "from counterfoil.main import main; main()", "kiosk"]
        command += ["--port", "0", "--ledger", str(path), "--secrets", f"{folder}/kiosk.json"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=dict(os.environ))
        assert server.stdout is not None
        address = server.stdout.readline().split()[4]
        try:
            if what == "hostile":
                _hostile(address, count)
                expected: list[int] = []
            elif what == "slow":
                expected = _slow(address, count, float(sys.argv[3]), server.pid)
            else:
                expected = asyncio.run(_load(address, count, float(sys.argv[3]), server.pid))
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=30)
        with Ledger.open(str(path)) as ledger:
            paired = [one.sequence for one in ledger.entries(kinds=(Kind.PAIRED,))]
            print(f"ledger: {ledger.size()} entries, {len(paired)} pairs, "
                  f"clean: {ledger.verify().is_clean}")  # fmt: skip
            if sorted(expected) != paired:
                raise SystemExit("The ledger has other pairs than were acknowledged.")
            if what == "hostile" and ledger.size():
                raise SystemExit("A hostile request got into the ledger.")


if __name__ == "__main__":
    main()
