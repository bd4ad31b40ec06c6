"""The worksheet as a painter meets it: start, first wash after the drop, touches, memory.

    python benchmarks/worksheet.py [--cold] [--megapixels 24]

Starts `firstwash open` as a process of its own on a data folder of its own and talks to it over
loopback, as the page does. --cold: with an empty folder for compiled kernels, as on a new
computer; the photo is dropped as soon as the page is there. Targets: page 1.5 s, first wash
60 s (cold), a strength tried 50 ms, 400 MiB at rest. A strength tried is compared with the plain
way, the whole edited plan (`change_strength`) and its pictures.
"""

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import cv2
import httpx

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(Path(__file__).parent))

from scene import photo as still_life  # noqa: E402


def photo(megapixels: float) -> bytes:
    """The still life at another size, as JPEG."""
    picture = cv2.imread(str(still_life()))
    scale = (megapixels * 1e6 / (picture.shape[0] * picture.shape[1])) ** 0.5
    if abs(scale - 1.0) > 0.01:
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    return bytes(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])[1])


class Worksheet:
    """A running worksheet and a client that speaks as its page does."""

    def __init__(self, folder: Path, cold: bool) -> None:
        """Start it; returns when the first page has come."""
        environment = dict(os.environ)
        if cold:
            environment["NUMBA_CACHE_DIR"] = str(folder / "kernels")
        began = time.perf_counter()
        command = [sys.executable, "-m", "firstwash", "open", "--no-browser", "--port", "0"]
        self.process = subprocess.Popen(
            [*command, "--data", str(folder / "data")],
            stdout=subprocess.PIPE, text=True, env=environment,
        )  # fmt: skip
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://\S+", line)
        if found is None:
            raise SystemExit(f"the worksheet did not start: {line}")
        self.url = found[0].rstrip("/")
        self.client = httpx.Client(base_url=self.url, timeout=300, headers={"Origin": self.url})
        page = self.client.get("/").text
        self.client.get("/api/shelf").raise_for_status()
        self.started = time.perf_counter() - began
        token = re.search(r'name="token" content="([^"]+)"', page)
        assert token is not None
        self.client.headers["X-Firstwash-Token"] = token[1]

    def get(self, path: str, **query: Any) -> Any:
        """What a GET answers."""
        answer = self.client.get(path, params=query)
        answer.raise_for_status()
        return answer.json() if "json" in answer.headers["content-type"] else answer.content

    def post(self, path: str, body: Any) -> Any:
        """What a POST answers."""
        answer = self.client.post(path, json=body)
        answer.raise_for_status()
        return answer.json()

    def memory(self) -> float:
        """MiB of the server and of all it started."""
        listed = subprocess.run(
            ["ps", "-eo", "pid=,ppid=,rss="], capture_output=True, text=True, check=True
        ).stdout
        rows = [tuple(map(int, row.split())) for row in listed.splitlines()]
        own, grown = {self.process.pid}, True
        while grown:
            more = {pid for pid, parent, _ in rows if parent in own} - own
            own, grown = own | more, bool(more)
        return sum(rss for pid, _, rss in rows if pid in own) / 1024

    def stop(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait(20)


def median_ms(work: Any, times: int = 15) -> float:
    """Median milliseconds of some work, after one try."""
    work()
    took = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        took.append(1000 * (time.perf_counter() - began))
    return statistics.median(took)


def first_wash(sheet: Worksheet, picture: bytes) -> dict[str, Any]:
    """Drop a photo, plan, look at the lay-in; returns the painting."""
    began = time.perf_counter()
    answer = sheet.client.post(
        "/api/paintings", content=picture, headers={"X-File-Name": "still-life.jpg"}
    )
    answer.raise_for_status()
    painting = answer.json()
    path = f"/api/paintings/{painting['id']}"
    laid = time.perf_counter()
    job = sheet.post(f"{path}/plan", {"base": painting["revision"]})["job"]
    looked = 0.0
    while (state := sheet.get(f"/api/jobs/{job}"))["state"] in ("waiting", "running"):
        if not looked and sheet.client.get(f"/api/jobs/{job}/look").is_success:
            looked = time.perf_counter() - began
        time.sleep(0.1)
    if state["state"] != "finished":
        raise SystemExit(f"the plan {state['state']}: {state.get('ended')}")
    painting = sheet.get(path)
    stamp = painting["plan"]["stamp"]
    sheet.get(f"/prints/{painting['id']}/plan/{stamp}/stage-1", w=1200)
    ended = time.perf_counter()
    print(f"photo of {len(picture) / 1e6:.1f} MB on the sheet    {laid - began:6.1f} s")
    print(f"first wash on the page after the drop {looked or ended - began:6.1f} s")
    print(f"the plan                              {ended - began:6.1f} s")
    return painting


def touches(sheet: Worksheet, painting: dict[str, Any]) -> None:
    """How long answers take that a finger waits for."""
    path = f"/api/paintings/{painting['id']}"
    middle = {"x": painting["width_mm"] / 2, "y": painting["height_mm"] / 2}
    spot = sheet.get(f"{path}/spot", **middle)
    band = next(b for b in reversed(spot["bands"]))
    asked = {"layer": band["layer"], "number": band["wash"], "cell": spot["cell"]}
    strength = min(band["wash_strength"] * 0.9, 1.0)

    def accept_and_look() -> None:
        now = sheet.get(path)
        body = {"base": now["revision"], "layer": band["layer"], "number": band["wash"]}
        after = sheet.post(f"{path}/strength", {**body, "strength": strength})
        stamp = after["plan"]["stamp"]
        sheet.get(f"/prints/{painting['id']}/plan/{stamp}/finished", w=700)
        sheet.post(f"{path}/back", {"base": after["revision"]})

    tried = median_ms(lambda: sheet.get(f"{path}/try", **asked, strength=strength))
    plain = median_ms(accept_and_look, 5)
    spots = median_ms(lambda: sheet.get(f"{path}/spot", **middle))
    print(f"a spot                                {spots:6.1f} ms")
    print(f"a strength tried                      {tried:6.1f} ms")
    print(f"the plain way, plan and picture       {plain:6.1f} ms, {plain / tried:.0f} times")


def main() -> None:
    """Measure and print."""
    told = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    told.add_argument("--cold", action="store_true")
    told.add_argument("--megapixels", type=float, default=12.0)
    asked = told.parse_args()
    picture = photo(asked.megapixels)
    with tempfile.TemporaryDirectory() as folder:
        sheet = Worksheet(Path(folder), asked.cold)
        try:
            print(f"first page and list                   {sheet.started:6.2f} s")
            painting = first_wash(sheet, picture)
            touches(sheet, painting)
            print(f"memory just after, all processes      {sheet.memory():6.0f} MiB")
            time.sleep(75)
            print(f"memory at rest, all processes         {sheet.memory():6.0f} MiB")
        finally:
            sheet.stop()


if __name__ == "__main__":
    main()
