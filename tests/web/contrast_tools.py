"""Contrast as WCAG 2.2 measures it, and the colours of a page to measure."""

from __future__ import annotations

COLOURS = """
() => [...document.querySelectorAll('.frame svg, svg.face, svg.plot')].filter(s => s.checkVisibility()).flatMap(svg => {
  const fill = e => getComputedStyle(e).fill;
  let stage = svg;
  while (/^rgba.*, 0\\)$|^transparent$/.test(getComputedStyle(stage).backgroundColor)) stage = stage.parentElement;
  const paper = getComputedStyle(stage).backgroundColor;
  const back = t => {
    const at = t.getBBox(), x = at.x + at.width / 2, y = at.y + at.height / 2;
    const under = [...svg.querySelectorAll('rect, circle')].filter(r => {
      const b = r.getBBox(), shows = !/^rgba.*, 0\\)$|^none$/.test(fill(r));
      const before = r.compareDocumentPosition(t) & Node.DOCUMENT_POSITION_FOLLOWING;
      return shows && before && b.x <= x && x <= b.x + b.width && b.y <= y && y <= b.y + b.height;
    });
    return under.length ? fill(under[under.length - 1]) : paper;
  };
  const words = [...svg.querySelectorAll('text')].map(
    t => ['words ' + t.textContent, fill(t), back(t)]);
  const lines = ['edge', 'bolt', 'bar', 'stub', 'branch', 'loom-line'].flatMap(
    c => [...svg.querySelectorAll('.' + c)].slice(0, 1).map(e =>
      [c, c === 'loom-line' ? fill(e) : getComputedStyle(e).stroke, paper]));
  return [...words, ...lines];
})
"""
"""Words and lines of the pictures that are to be seen, each with its colour and what it is on."""
TYPE = """
() => {
  const clear = c => /^rgba.*, 0\\)$|^transparent$/.test(c);
  const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement, said = walker.currentNode.textContent.trim();
    if (!said || e.closest('svg, script, option, noscript, .unseen, .skip') || !e.checkVisibility() || clear(getComputedStyle(e).color)) continue;
    let under = e;
    while (under && clear(getComputedStyle(under).backgroundColor)) under = under.parentElement;
    found.push([said.slice(0, 60), getComputedStyle(e).color, getComputedStyle(under || document.body).backgroundColor]);
  }
  for (const e of document.querySelectorAll('input, textarea, select')) {
    const style = getComputedStyle(e);
    if (e.checkVisibility() && !clear(style.backgroundColor)) found.push([e.name, style.color, style.backgroundColor]);
  }
  return found;
}
"""
"""Words of a page outside its pictures, and its fields, each with its colour and what it is on."""


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours "rgb(1, 2, 3)" (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    parts = [float(x) / 255.0 for x in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
