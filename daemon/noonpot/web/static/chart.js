// A chart: curves over time with their names at the line ends, a target, a fan, marks.

import { brought, h, styled, swap, write } from './dom.js';
import { bounds, lines } from './lines.js';
import { drawOver, options } from './ink.js';
import { degrees, inUnit, known, unitNow } from './units.js';
import { clock, span } from './time.js';

let script = null;

/** The chart library, null when it cannot be had. It is asked for once, and never holds up the
 * numbers. */
function library() {
  script ??= new Promise((resolve) => {
    const tag = h('script', { src: '/static/vendor/uPlot.iife.min.js' });
    tag.onload = () => resolve(window.uPlot ?? null);
    tag.onerror = () => resolve(null);
    styled('/static/vendor/uPlot.min.css');
    document.head.append(tag);
  });
  return script;
}

/** How a place on the x axis reads: a time of day, or the time since loading. */
export const reads = (spec, x) => (spec.since
  ? `${x < 0 ? '−' : ''}${span(x)}` : (spec.clock ?? clock)(x));

/** All curves on one axis of x. A table of its own for each, so that none gets gaps of another. */
function joined(uPlot, { curves, reads: own }) {
  const of = (v) => (!known(v) ? null : own ? v : inUnit(v));
  const first = curves.find((curve) => curve.time.length).time[0];
  return uPlot.join(curves.map(({ time, values }) =>
    (time.length ? [time, values.map(of)] : [[first], [null]])));
}

/** What simple lines span, in words: they have no axes. */
function extent(spec) {
  const { curves, target, reads: own = degrees } = spec;
  const [low, high] = bounds(curves.flatMap(({ values }) => values).filter(known));
  const [from, to] = bounds(curves.flatMap(({ time }) => time));
  return `${own(low)} to ${own(high)}, from ${reads(spec, from)} to ${reads(spec, to)}${
    known(target) ? `; dashed: ${degrees(target)}` : ''}`;
}

/** A chart that lives in an element of its own.
 *
 * `spec`: `label` (what it shows, in words), `curves` [{ name, kind, time [s], values [°C],
 * ink?, dash? }] of which those of kind "low" and "high" span the fan, `target` [°C], `marks`
 * [{ at, name }], `since` (x counts from loading), `reads` (values that are no temperatures, in
 * words), `clock` (how a time reads, if not as the viewer's), `height` [px], `zoom`, `empty`
 * (words). */
export class Chart {
  constructor(spec) {
    this.spec = spec;
    this.place = h('div', { class: 'chart', role: 'img' });
    this.reading = h('p', { class: 'reading', 'aria-live': 'off' });
    this.numbers = h('div');
    this.details = h('details', { class: 'numbers' },
      h('summary', {}, 'The same in numbers'), this.numbers);
    this.details.addEventListener('toggle', () => this.#tabulate());
    this.element = h('figure', {}, this.place, this.reading, this.details);
    this.plot = null;
    this.watch = new ResizeObserver(() => this.#fit());
    this.watch.observe(this.place);
    this.media = ['print', '(prefers-color-scheme: dark)'].map((query) => matchMedia(query));
    this.repaint = () => this.plot?.redraw(false);
    this.media.forEach((query) => query.addEventListener('change', this.repaint));
    this.show(spec);
    library().then((uPlot) => {
      this.uPlot = uPlot;
      this.show(this.spec);
    });
  }

  /** Show other data; the kinds of the curves stay what they were. */
  show(spec) {
    this.spec = spec;
    this.place.setAttribute('aria-label', spec.label);
    const empty = spec.curves.every((curve) => curve.time.length < 2);
    if (this.uPlot && !empty) this.#draw();
    else if (this.uPlot === null || empty) this.#drawSimply(empty);
    this.#tabulate();
  }

  #draw() {
    const spec = this.spec;
    const data = joined(this.uPlot, spec);
    if (this.plot) {
      this.plot.spec = spec;
      this.plot.setData(data);
      return;
    }
    this.place.replaceChildren();
    const size = { width: this.place.clientWidth || 300, height: spec.height ?? 220 };
    const set = { ...options(spec, (x) => reads(spec, x)), ...size };
    set.hooks = { draw: [drawOver], setCursor: [(plot) => this.#read(plot)] };
    this.plot = new this.uPlot(set, data, (plot, begin) => {
      plot.spec = spec;
      this.place.append(plot.root);
      begin();
    });
  }

  #drawSimply(empty) {
    if (!empty) styled();
    this.plot?.destroy();
    this.plot = null;
    const { curves, target, height = 220, label, empty: words } = this.spec;
    swap(this.place, [curves, target], () => (empty
      ? h('p', { class: 'quiet' }, words ?? 'Nothing to draw yet.')
      : [lines(curves, { height, target, label }),
        h('p', { class: 'key' }, curves.filter((curve) => curve.name).map((curve) =>
          h('span', { class: curve.kind }, curve.name))),
        h('p', { class: 'reading' }, extent(this.spec))]));
  }

  #fit() {
    const width = this.place.clientWidth;
    if (this.plot && width && width !== this.plot.width) {
      this.plot.setSize({ width, height: this.plot.height });
    }
  }

  #read(plot) {
    const i = plot.cursor.idx;
    if (!known(i)) {
      write(this.reading, '');
      return;
    }
    const parts = this.spec.curves.map((curve, n) => {
      const value = plot.data[n + 1][i];
      return curve.name && known(value)
        ? `${curve.name} ${this.spec.reads?.(value) ?? `${Math.round(value)}°`}` : null;
    });
    write(this.reading, [reads(this.spec, plot.data[0][i]), ...parts.filter(Boolean)].join(', '));
  }

  async #tabulate() {
    this.details.hidden = !this.spec.curves[0]?.time.length;
    if (!this.details.open) return;
    const { numbers } = await brought('sheet');
    swap(this.numbers, [this.spec.curves, unitNow()], () => numbers(this.spec));
  }

  close() {
    this.watch.disconnect();
    this.media.forEach((query) => query.removeEventListener('change', this.repaint));
    this.plot?.destroy();
  }
}
