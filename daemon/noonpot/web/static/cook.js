// One cook: its curve, what happened, what was foreseen, and how it was.

import { get } from './api.js';
import { Chart } from './chart.js';
import { ending, named } from './cooks.js';
import { h } from './dom.js';
import { foreseen } from './foreseen.js';
import { section } from './forms.js';
import { said } from './said.js';
import { picture } from './sheet.js';
import { clockOf, dateOf, from, seconds } from './time.js';
import { degrees, known } from './units.js';
import { verdict } from './verdict.js';

const KINDS = { start: 'began', load: 'put in', unload: 'taken out', aim: 'turned', lid: 'lid open',
  note: 'note', spot: 'own thermometer', stop: 'ended' };
const QUIET = new Set(['acknowledge', 'shelve', 'undo', 'verdict']);
const TOLD = {
  azimuth: (v) => `bearing ${Math.round(v)}°`, elevation: (v) => `tilt ${Math.round(v)}°`,
  core_c: (v) => degrees(Number(v)), start_c: (v) => `from ${degrees(Number(v))}`,
  target_c: (v) => `target ${degrees(Number(v))}`, mass_kg: (v) => `${v} kg`, food: (v) => v,
  meal: (v) => `meal at ${clockOf(v)}`, text: (v) => v };

const details = (detail) => Object.entries(detail)
  .map(([key, value]) => (TOLD[key] ? TOLD[key](value) : `${key} ${value}`)).join(', ');

function events(cook) {
  const shown = cook.events.filter(({ kind }) => !QUIET.has(kind));
  return { shown, marks: shown.map(({ time }, i) => ({ at: seconds(time), name: `${i + 1}` })) };
}

const happened = ({ time, kind, detail }) => h('li', {},
  h('time', { datetime: time }, clockOf(time)),
  h('span', {}, h('b', {}, KINDS[kind] ?? kind), ` ${details(detail)}`));

function curveOf(cook, curve, marks) {
  const line = (kind, name, key) => ({ kind, name, time: curve.time, values: curve[key] });
  const core = line('core', 'core', 'core_c');
  const load = cook.events.findLast(({ kind }) => kind === 'load');
  if (load) core.values = from(core, seconds(load.time));
  return new Chart({
    label: `${named(cook)} in ${cook.cooker}: pot and core from ${clockOf(cook.started)} on; ${
      ending(cook)}`,
    height: 300, zoom: true, target: cook.target_c, marks,
    curves: [line('pot', 'pot', 'pot_c'), core,
      line('ambient', 'outside', 'ambient_c')],
    empty: 'Nothing was measured in this cook.' });
}

async function savePicture(chart, cook) {
  const blob = await picture(chart, `${named(cook)} in ${cook.cooker}, ${dateOf(cook.started)}`);
  if (!blob) {
    said('There is no picture: the chart script is missing. Print the page instead.');
    return;
  }
  const link = h('a', { href: URL.createObjectURL(blob), download: `cook-${cook.id}.png` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

export function open(place, id) {
  const charts = [];
  const show = async () => {
    try {
      const path = `/api/cooks/${encodeURIComponent(id)}`;
      const [cook, curve] = await Promise.all([get(path), get(`${path}/curve?points=900`)]);
      charts.splice(0).forEach((chart) => chart.close());
      const { shown, marks } = events(cook);
      const chart = curveOf(cook, curve, marks);
      charts.push(chart);
      const files = `${path}/`;
      place.replaceChildren(
        h('p', { class: 'back' }, h('a', { href: '#/cooks' }, '← All cooks')),
        h('h1', {}, `${named(cook)} in ${cook.cooker}`),
        h('p', { class: 'lead' }, `${dateOf(cook.started)} · ${ending(cook)}${
          known(cook.peak_core_c) ? ` · core up to ${degrees(cook.peak_core_c)}` : ''}`),
        h('section', { class: 'card' }, chart.element,
          h('p', { class: 'row files' },
            h('a', { class: 'button', href: `${files}report.html`, target: '_blank', rel: 'noopener' },
              'Report'),
            h('a', { class: 'button', href: `${files}recording.csv`, download: true }, 'Recording'),
            h('a', { class: 'button', href: `${files}table.csv`, download: true }, 'Table'),
            h('button', { type: 'button', onclick: () => savePicture(chart, cook) }, 'Picture'),
            h('button', { type: 'button', onclick: () => print() }, 'Print'))),
        section('What happened', h('ol', { class: 'steps numbered' }, shown.map(happened))),
        ...[foreseen(cook, charts)].filter(Boolean), verdict(cook, show));
    } catch (refusal) {
      place.replaceChildren(h('h1', {}, `Cook ${id}`), h('p', { class: 'error' }, refusal.message),
        h('p', {}, h('a', { href: '#/cooks' }, 'All cooks')));
    }
  };
  place.replaceChildren(h('h1', {}, `Cook ${id}`), h('p', { class: 'quiet' }, 'Looking …'));
  show();
  return () => charts.splice(0).forEach((chart) => chart.close());
}
