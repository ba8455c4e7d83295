// Curves as plain SVG: the small ones of lists, and all of them when the chart script is missing.

import { s } from './dom.js';

const WIDTH = 300;

export const bounds = (list) => list.reduce(([low, high], value) =>
  [Math.min(low, value), Math.max(high, value)], [Infinity, -Infinity]);

/** The path of a curve; it breaks where nothing is known. */
function path(time, values, x, y) {
  let pen = 'M';
  let text = '';
  values.forEach((value, i) => {
    if (value === null || value === undefined) {
      pen = 'M';
      return;
    }
    text += `${pen}${x(time[i]).toFixed(1)} ${y(value).toFixed(1)}`;
    pen = 'L';
  });
  return text;
}

/** Curves on common axes. `curves`: [{ kind, time, values }]; `target` becomes a dashed line.
 * With less than two points there is nothing to draw, and null comes back. */
export function lines(curves, { height = 60, target = null, label = '' } = {}) {
  const seen = curves.filter((curve) => curve.values.some((value) => (value ?? null) !== null));
  const times = seen.flatMap((curve) => curve.time);
  if (times.length < 2) return null;
  const values = seen.flatMap((curve) => curve.values).concat(target)
    .filter((value) => (value ?? null) !== null);
  const [left, right] = bounds(times);
  const [low, high] = bounds(values);
  const x = (at) => ((at - left) / (right - left || 1)) * WIDTH;
  const y = (value) => height - 3 - ((value - low) / (high - low || 1)) * (height - 6);
  return s('svg', {
    class: 'lines', viewBox: `0 0 ${WIDTH} ${height}`, preserveAspectRatio: 'none',
    role: label ? 'img' : null, 'aria-label': label || null, 'aria-hidden': label ? null : 'true',
  },
  target !== null && s('path', { class: 'target', d: `M0 ${y(target)}H${WIDTH}` }),
  seen.map((curve) =>
    s('path', { class: curve.kind, fill: 'none', d: path(curve.time, curve.values, x, y) })));
}
