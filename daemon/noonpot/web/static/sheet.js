// A chart as something to take along: a table of numbers, a picture.

import { reads } from './chart.js';
import { h } from './dom.js';
import { table } from './forms.js';
import { INKS } from './ink.js';
import { bare, known, unitNow } from './units.js';

const TABLE_ROWS = 30;

/** The curves of a chart as a table. */
export function numbers(spec) {
  const main = spec.curves[0];
  const step = Math.max(1, Math.ceil(main.time.length / TABLE_ROWS));
  const named = spec.curves.filter((curve) => curve.name && curve.time.length);
  const own = (value) => (spec.reads && known(value) ? spec.reads(value) : bare(value));
  const at = (curve, x) => curve.values[curve.time.findLastIndex((time) => time <= x)];
  const rows = main.time.filter((_, i) => i % step === 0)
    .map((x) => [reads(spec, x), ...named.map((curve) => own(at(curve, x)))]);
  return table(`The chart in numbers${spec.reads ? '' : `, °${unitNow()}`}`,
    [spec.since ? 'since loading' : 'time', ...named.map((curve) => curve.name)], rows);
}

/** The chart as a picture with its title, null where only the simple lines were drawn. */
export async function picture({ plot }, title) {
  if (!plot) return null;
  const px = devicePixelRatio;
  const drawn = plot.ctx.canvas;
  const sheet = h('canvas', { width: drawn.width, height: drawn.height + 28 * px });
  const pen = sheet.getContext('2d');
  pen.fillStyle = INKS.sheet();
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.fillStyle = INKS.ink();
  pen.font = `${14 * px}px system-ui, sans-serif`;
  pen.fillText(title, 10 * px, 19 * px);
  pen.drawImage(drawn, 0, 28 * px);
  return new Promise((resolve) => sheet.toBlob(resolve, 'image/png'));
}
