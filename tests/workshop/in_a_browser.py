"""Pages as a browser shows them, at the width of a phone and of a desk: what does not fit."""

from __future__ import annotations

import functools
import html
import json
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(
    BROWSER is None, reason="no chromium here; apt-get install chromium to run this"
)
WIDTHS = (360, 1280)

# Opens each page in a frame of each width and writes down what does not fit.
HARNESS = """<!doctype html><body style="margin:0"><pre id="result">waiting</pre><script>
const pages = PAGES, widths = WIDTHS, found = [];
let measured = 0;
async function look(page, width) {
  const frame = document.createElement("iframe");
  frame.width = width; frame.height = 900; frame.style.border = 0;
  frame.src = page;
  document.body.append(frame);
  await new Promise(done => frame.onload = done);
  const doc = frame.contentDocument, root = doc.documentElement, view = frame.contentWindow;
  if (doc.compatMode !== "CSS1Compat") found.push([page, width, "quirks"]);
  if (root.scrollWidth > width) found.push([page, width, "page", root.scrollWidth]);
  const font = view.getComputedStyle(doc.body).fontFamily;
  if (!font.includes("Liberation")) found.push([page, width, "style"]);
  for (const e of doc.body.querySelectorAll("*")) {
    const box = e.getBoundingClientRect();
    if (!box.width || e.closest(".skip")) continue;
    if (box.right > width + 0.5 || box.left < -0.5)
      found.push([page, width, e.tagName, e.textContent.slice(0, 40), box.right]);
  }
  for (const svg of doc.querySelectorAll("svg")) {
    if (!svg.getBoundingClientRect().width) continue;
    measured += 1;
    for (const rect of svg.querySelectorAll("rect")) {
      const text = rect.parentNode.querySelector("text");
      if (rect.parentNode.tagName !== "a" || !text) continue;
      const a = rect.getBBox(), b = text.getBBox();
      const across = b.x < a.x || b.x + b.width > a.x + a.width + 0.5;
      const down = b.y < a.y - 1 || b.y + b.height > a.y + a.height + 1;
      if (across || down)
        found.push([page, width, "text out of its box", text.textContent.slice(0, 40)]);
    }
    const size = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width * 12;
    if (size < 11) found.push([page, width, "small letters in a picture", size]);
  }
  frame.remove();
}
(async () => {
  for (const page of pages) for (const width of widths) await look(page, width);
  document.getElementById("result").textContent = JSON.stringify({found, measured, done: true});
})();
</script></body>"""


def measured(folder: Path, pages: Sequence[str]) -> dict[str, Any]:
    """What does not fit on the pages of a folder (``found``), and pictures ``measured``."""
    harness = HARNESS.replace("PAGES", json.dumps(list(pages)))
    (folder / "harness.html").write_text(harness.replace("WIDTHS", json.dumps(WIDTHS)))
    with _served(folder) as address:
        command = [
            str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
            f"--user-data-dir={folder / 'profile'}", "--window-size=1400,1000",
            "--virtual-time-budget=600000", "--dump-dom", f"{address}/harness.html",
        ]  # fmt: skip
        run = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    written = re.search(r'<pre id="result">(.*?)</pre>', run.stdout, flags=re.S)
    assert written, run.stderr[-2000:]
    result: dict[str, Any] = json.loads(html.unescape(written[1]))
    assert result["done"]
    return result


@contextmanager
def _served(folder: Path) -> Iterator[str]:
    handler = functools.partial(_Quiet, directory=str(folder))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}"
        server.shutdown()


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:
        pass
