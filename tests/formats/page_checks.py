"""What tests of the page ask of every sheet in a browser."""

from __future__ import annotations

from pathlib import Path

AXE = (Path(__file__).parents[1] / "browser/vendor/axe.min.js").read_text(encoding="utf-8")
SMALL = """() => {
  const seen = (e) => e.getClientRects().length > 0;
  const small = [...document.querySelectorAll('body *')].filter((e) => seen(e) && [...e.childNodes].some(
      (n) => n.nodeType === 3 && n.textContent.trim()) && parseFloat(getComputedStyle(e).fontSize) < 12);
  const scaled = [...document.querySelectorAll('svg.drawing')].filter(seen).filter((s) => s.getScreenCTM().a < 0.999);
  return [small.map((e) => e.textContent), scaled.length, document.documentElement.scrollWidth - innerWidth];
}"""


def axe(page, *rules: str) -> list[str]:
    """What axe-core finds, one line each."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    only = f"{{runOnly: {{type: 'rule', values: {list(rules)}}}}}" if rules else "{}"
    # inside a drawing axe judges nothing, it only takes its time; tests/docs/test_look.py judges those pairs
    found = page.evaluate(f"axe.run({{exclude: ['svg.drawing > *']}}, {only}).then((r) => r.violations)")
    return [f"{v['id']}: {v['help']}: {n['html'][:160]}" for v in found for n in v["nodes"]]
