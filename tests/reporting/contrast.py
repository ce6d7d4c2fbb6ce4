"""Contrast of text as the guidelines define it, with the colours a browser really used."""

from __future__ import annotations

from typing import Any

AA, AA_LARGE = 4.5, 3.0
"""Least contrast of text, and of large text: Web Content Accessibility Guidelines 2.2, 1.4.3."""
AA_GRAPHICS = 3.0
"""Least contrast of what is drawn to be understood, against what it stands on: the same, 1.4.11."""
LARGE, LARGE_BOLD = 24.0, 18.66
"""Pixels from which on text is large (18 pt, or 14 pt bold), as defined there."""
BOLD = 700

FOUND = """(() => {
  const parts = c => {
    const m = c.match(/[\\d.]+/g).map(Number);
    return [...m.slice(0, 3), m[3] ?? 1];
  };
  const over = (top, below) =>
    [0, 1, 2].map(i => top[i] * top[3] + below[i] * (1 - top[3])).concat(1);
  const behind = node => {
    const stack = [];
    for (let e = node; e; e = e.parentElement)
      stack.push(parts(getComputedStyle(e).backgroundColor));
    return stack.reverse().reduce((below, top) => over(top, below), [255, 255, 255, 1]);
  };
  const holds = (box, r) => box.left <= r.left + r.width / 2 && box.right >= r.left + r.width / 2
    && box.top <= r.top + r.height / 2 && box.bottom >= r.top + r.height / 2;
  const drawnBehind = text => {
    const style = getComputedStyle(text);
    if (style.stroke !== 'none') return parts(style.stroke);
    const r = text.getBoundingClientRect();
    let ground = behind(text.ownerSVGElement.parentElement);
    for (const e of text.ownerSVGElement.querySelectorAll('rect,circle,polygon,image,text')) {
      if (e === text) break;
      if (e.tagName === 'text' || !holds(e.getBoundingClientRect(), r)) continue;
      if (e.tagName === 'image') { ground = null; continue; }
      const s = getComputedStyle(e);
      if (s.fill !== 'none') {
        const fill = parts(s.fill); fill[3] *= s.opacity * s.fillOpacity;
        ground = fill[3] > 0.99 || !ground ? fill : over(fill, ground);
      }
    }
    return ground;
  };
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const words = walk.currentNode.data.trim(), e = walk.currentNode.parentElement;
    if (!words || e.closest('title,style')) continue;
    const r = e.getBoundingClientRect();
    if (!r.width) continue;
    const style = getComputedStyle(e), svg = e instanceof SVGElement;
    const turned = svg ? e.getScreenCTM() : {a: 1, b: 0}, scale = Math.hypot(turned.a, turned.b);
    found.push({words, ink: parts(svg ? style.fill : style.color),
      ground: svg ? drawnBehind(e) : behind(e),
      size: parseFloat(style.fontSize) * scale, weight: Number(style.fontWeight)});
  }
  return found;
})()"""
"""Gives each piece of text with its ink, what it stands on (null: a picture), size and weight."""


def luminance(rgb: list[float]) -> float:
    """Relative luminance of 8-bit sRGB, as WCAG 2.2 defines it."""
    c = [v / 255 for v in rgb[:3]]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in c]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: list[float], b: list[float]) -> float:
    """Contrast ratio, as WCAG 2.2 defines it."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def too_faint(found: list[dict[str, Any]]) -> list[tuple[str, float]]:
    """List texts whose contrast is below AA, and those that stand on a picture."""
    poor = []
    for one in found:
        if one["ground"] is None:
            poor.append((one["words"], 0.0))
            continue
        ink = one["ink"]
        seen = [ink[i] * ink[3] + one["ground"][i] * (1 - ink[3]) for i in range(3)]
        big = one["size"] >= (LARGE_BOLD if one["weight"] >= BOLD else LARGE)
        ratio = contrast(seen, one["ground"])
        if ratio < (AA_LARGE if big else AA):
            poor.append((one["words"], round(ratio, 2)))
    return poor


DRAWN = """(() => {
  const parts = c => {
    const m = c.match(/[\\d.]+/g).map(Number);
    return [...m.slice(0, 3), m[3] ?? 1];
  };
  const wanted = '.bar,.curve,.error,.sign:not(span),.limit,.ruler,.root,.wedge,.hollow,.zero';
  return [...document.querySelectorAll('svg')].flatMap(svg =>
    [...svg.querySelectorAll(wanted)].map(e => {
      const s = getComputedStyle(e), line = s.stroke !== 'none';
      const ink = parts(line ? s.stroke : s.fill);
      ink[3] *= s.opacity;
      return {words: e.getAttribute('class'), ink, size: 0, weight: 0,
        ground: parts(getComputedStyle(e.closest('section')).backgroundColor)};
    }));
})()"""
"""Gives each line, bar and sign of the plots with its ink and the ground of its part."""


def too_pale(found: list[dict[str, Any]]) -> set[str]:
    """List kinds of drawn things whose contrast is below AA."""
    poor = set()
    for one in found:
        ink = one["ink"]
        seen = [ink[i] * ink[3] + one["ground"][i] * (1 - ink[3]) for i in range(3)]
        if contrast(seen, one["ground"]) < AA_GRAPHICS:
            poor.add(one["words"])
    return poor
