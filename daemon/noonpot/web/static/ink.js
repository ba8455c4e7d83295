// How charts look. The inks stand in page.css, so that dark, light and print each have theirs.

import { inUnit, known, unitNow } from './units.js';

const FONT = '12px system-ui, sans-serif';
const LINE_PX = 15;
const LEAST_SPAN = 12; // degrees: less would make mountains of noise
const DEGREES = [1, 2, 5, 10, 20, 50, 100, 200];
const TIMES_S = [1, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440, 10080, 43200]
  .map((minutes) => minutes * 60);
const ink = (name) => () =>
  getComputedStyle(document.documentElement).getPropertyValue(name).trim();

export const INKS = Object.fromEntries(
  ['sheet', 'ink', 'faint', 'rule', 'pot', 'core', 'ambient', 'fan', 'c1', 'c2', 'c3', 'c4', 'c5',
    'c6'].map((name) => [name, ink(`--${name}`)]));

const LOOK = {
  pot: { stroke: INKS.pot, width: 2 },
  core: { stroke: INKS.core, width: 3 },
  ambient: { stroke: INKS.ambient, width: 1.5 },
  likely: { stroke: INKS.core, width: 1.5, dash: [6, 5] },
  was: { stroke: INKS.ink, width: 2, dash: [2, 4] },
};

function series({ kind, ink: own, dash }) {
  const look = LOOK[kind] ?? (own ? { stroke: INKS[own], width: 2 } : { stroke: null, width: 0 });
  return { ...look, ...(dash ? { dash } : {}), points: { show: false }, spanGaps: false };
}

/** The options of the chart library, but for the size and the hooks. */
export function options(spec, reads) {
  const at = (kind) => spec.curves.findIndex((curve) => curve.kind === kind) + 1;
  const axis = { stroke: INKS.faint, font: FONT, ticks: { show: false } };
  const grid = { stroke: INKS.rule, width: 1 };
  return {
    padding: [14, 10, 0, 0],
    legend: { show: false },
    cursor: { points: { size: 7 }, drag: { x: Boolean(spec.zoom), y: false, setScale: true } },
    scales: {
      x: { time: !spec.since },
      y: { range: (plot, low, high) => yRange(plot, low, high) },
    },
    bands: at('high') ? [{ series: [at('high'), at('low')], fill: INKS.fan }] : [],
    axes: [
      { ...axis, grid: { show: false }, size: 28, space: 64,
        values: (_, ticks) => ticks.map(spec.since ? (x) => hours(x) : reads),
        incrs: TIMES_S },
      { ...axis, grid, size: spec.reads ? 46 : 40,
        incrs: spec.reads ? TIMES_S : DEGREES,
        values: (_, ticks) => ticks.map((v) => (spec.reads ? spec.reads(v) : `${v}°`)) },
    ],
    series: [{}, ...spec.curves.map(series)],
  };
}

const hours = (x) => `${x < 0 ? '−' : ''}${Math.floor(Math.abs(x) / 3600)}:${
  String(Math.round((Math.abs(x) % 3600) / 60)).padStart(2, '0')}`;

function yRange(plot, low, high) {
  const target = plot.spec?.target;
  const values = [low, high, known(target) ? inUnit(target) : null].filter(known);
  if (!values.length) return [0, unitNow() === 'F' ? 212 : 100];
  const [bottom, top] = [Math.min(...values), Math.max(...values)];
  const least = plot.spec?.reads ? 0 : LEAST_SPAN;
  const air = Math.max((top - bottom) * 0.06, (least - (top - bottom)) / 2, 2);
  return [bottom - air, top + air * 1.6];
}

/** The target, the marks and the names at the line ends, in the chart's own pixels. */
export function drawOver(plot) {
  const { ctx: pen, bbox, spec } = plot;
  const px = devicePixelRatio;
  pen.save();
  pen.font = `${12 * px}px system-ui, sans-serif`;
  pen.textBaseline = 'middle';
  pen.textAlign = 'left';
  pen.lineJoin = 'round';
  const name = (text, x, y, fill) => {
    pen.lineWidth = 4 * px;
    pen.strokeStyle = INKS.sheet();
    pen.strokeText(text, x, y);
    pen.fillStyle = fill;
    pen.fillText(text, x, y);
  };
  if (known(spec.target)) {
    const y = plot.valToPos(inUnit(spec.target), 'y', true);
    rule(pen, [bbox.left, y, bbox.left + bbox.width, y], INKS.ink(), px);
    name(`target ${Math.round(inUnit(spec.target))}°`, bbox.left + 4 * px, y - 9 * px, INKS.ink());
  }
  for (const { x, text } of marks(plot, pen, px)) {
    name(text, x - pen.measureText(text).width / 2, bbox.top - 6 * px, INKS.ink());
  }
  for (const end of ends(plot, pen, px)) name(end.text, end.x, end.y, end.fill);
  pen.restore();
}

function rule(pen, [x1, y1, x2, y2], stroke, px) {
  pen.beginPath();
  pen.setLineDash([5 * px, 4 * px]);
  pen.lineWidth = px;
  pen.strokeStyle = stroke;
  pen.moveTo(x1, y1);
  pen.lineTo(x2, y2);
  pen.stroke();
  pen.setLineDash([]);
}

/** Draws the line of each mark; the names of those that stand close together become one. */
function marks(plot, pen, px) {
  const { bbox, spec } = plot;
  const named = [];
  for (const { at, name } of spec.marks ?? []) {
    const x = plot.valToPos(at, 'x', true);
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    rule(pen, [x, bbox.top, x, bbox.top + bbox.height], INKS.faint(), px);
    const last = named.at(-1);
    if (last && x - last.at < 13 * px) {
      Object.assign(last, { at: x, text: `${last.text}, ${name}` });
    } else named.push({ x, at: x, text: name });
  }
  return named;
}

/** Where the name of each curve goes: beside its last point, none upon another. */
function ends(plot, pen, px) {
  const { bbox, spec, data } = plot;
  const right = bbox.left + bbox.width;
  const found = spec.curves.flatMap((curve, n) => {
    const i = curve.name ? data[n + 1].findLastIndex(known) : -1;
    if (i < 0) return [];
    const width = pen.measureText(curve.name).width;
    const x = Math.min(plot.valToPos(data[0][i], 'x', true) + 6 * px, right - width);
    const line = plot.valToPos(data[n + 1][i], 'y', true);
    const edge = x >= right - width;
    return [{ text: curve.name, x, y: line - (edge ? 10 * px : 0), line, edge, width,
      fill: (LOOK[curve.kind]?.stroke ?? INKS.ink)() }];
  }).sort((a, b) => a.y - b.y);
  found.forEach((end, i) => {
    for (const other of found.slice(0, i)) {
      const apart = end.x > other.x + other.width || other.x > end.x + end.width;
      if (!apart && end.y < other.y + LINE_PX * px) end.y = other.y + LINE_PX * px;
    }
    // one that was pushed down onto its own line goes below it
    if (end.edge && Math.abs(end.y - end.line) < 9 * px) end.y = end.line + 10 * px;
  });
  return found;
}
