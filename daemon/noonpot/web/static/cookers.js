// The cookers, and what is known of each from its cooks.

import { about, get } from './api.js';
import { h } from './dom.js';
import { section, table } from './forms.js';
import { named, small } from './cooks.js';
import { foods } from './foods.js';
import { rated } from './rates.js';
import { dateOf, seconds, span } from './time.js';
import { degrees, known } from './units.js';

const ASKED = 100;
const LAST = 3;

const middle = (list) => {
  const sorted = [...list].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
};

function byFood(cooks) {
  const foods = new Map();
  cooks.forEach((cook) => {
    const food = cook.food || '';
    foods.set(food, [...(foods.get(food) ?? []), cook]);
  });
  return [...foods].map(([food, all]) => {
    const times = all.filter(({ done, loaded }) => done && loaded)
      .map(({ done, loaded }) => seconds(done) - seconds(loaded));
    const ratings = all.map(({ verdict }) => verdict?.rating).filter(known);
    return [(food || 'without a name').replaceAll('-', ' '), `${all.length}`,
      `${all.filter(({ done }) => done).length}`,
      times.length ? span(middle(times)) : '–',
      times.length > 1 ? `${span(Math.min(...times))} – ${span(Math.max(...times))}` : '–',
      ratings.length ? (ratings.reduce((a, b) => a + b) / ratings.length).toFixed(1) : '–'];
  });
}

function hottest(cooks) {
  const pots = cooks.flatMap(({ small: curve }) => curve?.pot_c ?? []).filter(known);
  return pots.length ? degrees(Math.max(...pots)) : '–';
}

function card(cooker, cooks, rating) {
  const loaded = cooks.filter(({ loaded: at }) => at);
  const done = loaded.filter(({ done: at }) => at).length;
  const words = !cooks.length
    ? 'It was never watched. What it can do is guessed from its size, so forecasts are wide.'
    : `Known from ${cooks.length === ASKED ? `the last ${ASKED}` : cooks.length} ${
      cooks.length === 1 ? 'cook' : 'cooks'} since ${dateOf(cooks.at(-1).started)}: ${done} of ${
      loaded.length} loads got done. Each one that is ended with Stop makes forecasts narrower.`;
  return section(cooker.name, h('p', {}, words),
    h('dl', { class: 'facts' },
      h('dt', {}, 'Opening'), h('dd', {}, `${cooker.aperture_m2} m²`),
      h('dt', {}, 'Forgives'),
      h('dd', {}, `half the light is lost ${Math.round(cooker.acceptance_deg)}° beside the sun`),
      h('dt', {}, 'Hottest pot'), h('dd', {}, hottest(cooks))),
    rating, foods(cooker),
    cooks.length > 0 && table(`What ${cooker.name} has cooked`,
      ['food', 'cooks', 'done', 'usually takes', 'between', 'liked'], byFood(loaded)),
    cooks.length > 0 && h('ul', { class: 'cooks' }, cooks.slice(0, LAST).map((cook) =>
      h('li', { class: 'cook' }, h('a', { href: `#/cooks/${cook.id}` },
        h('span', { class: 'title' }, h('b', {}, named(cook)), `, ${dateOf(cook.started)}`),
        small(cook))))));
}

export function open(place) {
  const body = h('div', {}, h('p', { class: 'quiet' }, 'Looking …'));
  place.replaceChildren(h('h1', {}, 'Cookers'), body, h('p', { class: 'quiet' },
    `Water boils at ${degrees(about.boiling_c)} here: food that cooks in water gets no hotter.`));
  let turn = Promise.resolve(); // one rating after the other
  Promise.all(about.cookers.map(async (cooker) => {
    const [rating, done] = rated(cooker, turn);
    turn = done;
    const { cooks } = await get(`/api/cooks?cooker=${cooker.name}&limit=${ASKED}`);
    return card(cooker, cooks, rating);
  })).then((cards) => body.replaceChildren(...cards),
    (refusal) => body.replaceChildren(h('p', { class: 'error' }, refusal.message)));
}
