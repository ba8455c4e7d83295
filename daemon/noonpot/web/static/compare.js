// Some cooks upon each other, aligned at the moment when the food went in.

import { get } from './api.js';
import { Chart } from './chart.js';
import { h } from './dom.js';
import { section, table } from './forms.js';
import { ending, named, took } from './cooks.js';
import { dateOf, seconds } from './time.js';
import { degrees, kilograms } from './units.js';

const INKS = ['c1', 'c2', 'c3', 'c4', 'c5', 'c6'];
const LONGEST = 18;
const DASHES = [null, [8, 4], [2, 3], [10, 3, 2, 3], [5, 5], [1, 4]];

function overlay(cooks, curves, key, words) {
  return new Chart({ label: `${words} of ${cooks.length} cooks, counted from loading`, since: true,
    height: 280, zoom: true,
    curves: cooks.map((cook, i) => {
      const zero = seconds(cook.loaded ?? cook.started);
      const name = `${cook.id} ${cook.food ?? ''}`.slice(0, LONGEST);
      return { name, ink: INKS[i], dash: DASHES[i],
        time: curves[i].time.map((at) => at - zero), values: curves[i][key] };
    }) });
}

export function open(place, _, query) {
  const ids = (query.get('ids') ?? '').split(',').filter((id) => /^\d+$/.test(id))
    .slice(0, INKS.length);
  const charts = [];
  const show = async () => {
    const cooks = await Promise.all(ids.map((id) => get(`/api/cooks/${id}`)));
    const curves = await Promise.all(ids.map((id) => get(`/api/cooks/${id}/curve?points=600`)));
    const empty = cooks.filter(({ loaded }) => !loaded).map(({ id }) => id);
    charts.push(overlay(cooks, curves, 'core_c', 'The cores'),
      overlay(cooks, curves, 'pot_c', 'The pots'));
    body.replaceChildren(
      ...(empty.length ? [h('p', { class: 'quiet' },
        `Nothing was put in at cook ${empty.join(', ')}: it is counted from its start.`)] : []),
      section('Core', charts[0].element), section('Pot', charts[1].element),
      section('The cooks', table('The cooks',
        ['cook', 'what', 'cooker', 'day', 'how much', 'to its target',
          'until done', 'core up to', 'ended'],
        cooks.map((cook) => [h('a', { href: `#/cooks/${cook.id}` }, `${cook.id}`),
          named({ ...cook, mass_kg: null }), cook.cooker, dateOf(cook.started),
          kilograms(cook.mass_kg) || '–', took(cook, cook.reached), took(cook, cook.done),
          degrees(cook.peak_core_c),
          ending(cook)]))));
  };
  const body = h('div', {}, h('p', { class: 'quiet' }, 'Looking …'));
  place.replaceChildren(h('p', { class: 'back' }, h('a', { href: '#/cooks' }, '← All cooks')),
    h('h1', {}, 'Cooks compared'), body);
  if (ids.length < 2) body.replaceChildren(h('p', {}, 'Tick two cooks or more in the list.'));
  else show().catch((refusal) => body.replaceChildren(h('p', { class: 'error' }, refusal.message)));
  return () => charts.forEach((chart) => chart.close());
}
