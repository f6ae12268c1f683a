"""What the page answers to attacks and accidents, served as a person serves it: statuses, time and memory.

    python benchmarks/page_under_attack.py

Everything is sent to a page of its own on this computer, and ends with it.
"""

import asyncio
import contextlib
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PHOTO = (ROOT / "fixtures" / "card.jpg").read_bytes()
GIGABYTE = 1 << 30


def rss_mb(pid: int) -> float:
    """Return the memory of a process [MB]."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(status.split("VmRSS:")[1].split()[0]) / 1000


def children(pid: int) -> list[int]:
    """Return the processes a process has started."""
    found = []
    for task in Path(f"/proc/{pid}/task").iterdir():
        found += [int(child) for child in (task / "children").read_text(encoding="ascii").split()]
    return found


async def hear(reader: asyncio.StreamReader) -> bytes:
    """Return what is answered until the page hangs up."""
    answer = b""
    with contextlib.suppress(ConnectionError, OSError):
        while chunk := await reader.read(1 << 16):
            answer += chunk
    return answer


async def ask(port: int, head: str, body: bytes = b"", more: int = 0, origin: str | None = None) -> tuple[int, str]:
    """Send one request, its body followed by `more` noughts, and return status and text."""
    host = f"127.0.0.1:{port}"
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    lines = [head, f"Origin: {origin or f'http://{host}'}", "Connection: close"]
    if "\r\nHost:" not in head:
        lines.append(f"Host: {host}")
    if head.startswith("POST"):
        lines.append(f"Content-Length: {len(body) + more}")
    writer.write(("\r\n".join(lines) + "\r\n\r\n").encode() + body)
    hearing = asyncio.create_task(hear(reader))
    with contextlib.suppress(ConnectionError, OSError):  # where the page has heard enough
        nought = bytes(1 << 20)
        for _ in range(more >> 20):
            writer.write(nought)
            await writer.drain()
    answer = await asyncio.wait_for(hearing, 60)
    writer.close()
    status = answer.split(b" ", 2)[1:2]
    return int(status[0]) if status else 0, answer.partition(b"\r\n\r\n")[2].decode(errors="replace")


async def attack(port: int, pid: int) -> None:
    """Try everything and print what was answered."""

    def tell(what: str, *answers: tuple[int, str]) -> None:
        said = Counter(status for status, _ in answers)
        words = next((text for _, text in answers if text), "")[:90].replace("\n", " ")
        print(f"{what:46} {dict(said)!s:24} {rss_mb(pid):5.0f} MB  {words}", flush=True)

    evil = "http://evil.example"
    tell("foreign Host", await ask(port, "GET / HTTP/1.1\r\nHost: evil.example"))
    tell("foreign Origin", await ask(port, "POST /api/sample HTTP/1.1", origin=evil))
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/api/works/..%2f..%2fetc%2fpasswd/files/pattern.pdf"):
        tell(f"GET {path[:40]}", await ask(port, f"GET {path} HTTP/1.1"))
    tell("2 GB upload", await ask(port, "POST /api/photos HTTP/1.1", b"\xff\xd8\xff", 2 * GIGABYTE))
    begun = time.perf_counter()
    flood = await asyncio.gather(*(ask(port, f"POST /api/photos?name={i}.jpg HTTP/1.1", PHOTO) for i in range(50)))
    tell(f"50 uploads at once, {time.perf_counter() - begun:.1f} s", *flood)
    begun = time.perf_counter()
    tell("the page itself meanwhile", await ask(port, "GET / HTTP/1.1"))
    print(f"{'':46} answered in {1000 * (time.perf_counter() - begun):.0f} ms")
    await asyncio.sleep(4.0)
    workers = [child for child in children(pid) if rss_mb(child) > 50]
    for worker in workers:
        os.kill(worker, signal.SIGKILL)
    await asyncio.sleep(1.0)
    tell(f"{len(workers)} workers killed; the page", await ask(port, "GET /api/form HTTP/1.1"))
    headers = "GET / HTTP/1.1\r\n" + "\r\n".join(f"X-{i}: {'y' * 200}" for i in range(2000))
    tell("400 kB of headers", await ask(port, headers))
    tell("half a megabyte of JSON", await ask(port, "POST /api/drawer/compare HTTP/1.1", b"[" * 500_000))


def main() -> None:
    """Serve a page and attack it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "OUTGROWN_DRAWER": f"{folder}/drawer", "TMPDIR": folder}
        command = [sys.executable, "-m", "outgrown", "page", "--no-browser", "--port", str(port)]
        served = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL)
        try:
            time.sleep(3.0)
            asyncio.run(attack(port, served.pid))
        finally:
            served.terminate()
            served.wait(15)
        print(f"left behind: {sorted(p.name for p in Path(folder).iterdir())}")


if __name__ == "__main__":
    main()
