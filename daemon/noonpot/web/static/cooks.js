// All cooks, newest first, each with its small curve.

import { about, get } from './api.js';
import { h } from './dom.js';
import { choice, field } from './forms.js';
import { lines } from './lines.js';
import { clockOf, dateOf, seconds, span } from './time.js';
import { degrees, kilograms, known } from './units.js';

const MOST_COMPARED = 6;

/** What a cook was, in a few words. */
export const named = (cook) => [(cook.food || 'food without a name').replaceAll('-', ' '),
  kilograms(cook.mass_kg)].filter(Boolean).join(', ');

/** How long it took from loading to a moment, a dash where one of them is not known. */
export const took = ({ loaded }, at) =>
  (at && loaded ? span(seconds(at) - seconds(loaded)) : '–');

/** How it ended, in words. To touch the target is not yet to be done. */
export function ending(cook) {
  if (!cook.loaded) return cook.done ? 'done' : cook.stopped ? 'nothing was put in' : 'heating up';
  if (cook.done) return `done after ${took(cook, cook.done)}`;
  if (!cook.reached) return cook.stopped ? 'not done' : 'cooking';
  const touched = `target reached after ${took(cook, cook.reached)}`;
  return cook.stopped ? `${touched}, never found done` : `cooking, ${touched}`;
}

export const stars = (rating) => (rating ? '★'.repeat(rating) + '☆'.repeat(5 - rating) : '');

/** The small curve of pot and core. */
export const small = ({ small: curve, target_c: target }) => (curve && lines([
  { kind: 'pot', time: curve.time, values: curve.pot_c },
  { kind: 'core', time: curve.time, values: curve.core_c }], { height: 48, target })) || h('span');

function row(cook, chosen, changed) {
  const box = h('input', { type: 'checkbox', 'aria-label': `Compare cook ${cook.id}`,
    checked: chosen.has(cook.id), onchange: () => {
      chosen[box.checked ? 'add' : 'delete'](cook.id);
      changed();
    } });
  const rating = cook.verdict?.rating;
  return h('li', { class: 'cook' }, h('label', { class: 'tick' }, box),
    h('a', { href: `#/cooks/${cook.id}` },
      h('span', { class: 'title' }, h('b', {}, named(cook)), ` in ${cook.cooker}`),
      h('span', { class: 'quiet' }, [`${dateOf(cook.started)}, ${clockOf(cook.started)}`,
        ending(cook), known(cook.peak_core_c) && `core up to ${degrees(cook.peak_core_c)}`]
        .filter(Boolean).join(' · '),
      rating && h('span', { role: 'img', 'aria-label': ` · ${rating} of 5` },
        ` · ${stars(rating)}`)),
      small(cook)));
}

export function open(place) {
  const chosen = new Set();
  const list = h('ul', { class: 'cooks' });
  const words = h('p', { class: 'quiet', role: 'status' }, 'Looking …');
  const compare = h('a', { class: 'button', hidden: true }, 'Compare');
  const more = h('button', { type: 'button', hidden: true, onclick: () => load() },
    'Earlier cooks');
  const cooker = choice('cooker',
    [['', 'all cookers'], ...about.cookers.map(({ name }) => [name, name])]);
  let last = null;
  const changed = () => {
    compare.hidden = chosen.size < 2;
    compare.textContent = `Compare ${chosen.size} cooks`;
    compare.href = `#/cooks/compare?ids=${[...chosen].slice(0, MOST_COMPARED).join(',')}`;
  };
  const load = async () => {
    const query = new URLSearchParams({ limit: 30 });
    if (cooker.value) query.set('cooker', cooker.value);
    if (last) query.set('before', last);
    more.disabled = true;
    try {
      const { cooks, more: others } = await get(`/api/cooks?${query}`);
      last = cooks.at(-1)?.id ?? last;
      list.append(...cooks.map((cook) => row(cook, chosen, changed)));
      more.hidden = !others;
      words.textContent = list.childElementCount ? ''
        : 'No cook yet. Press Start on the first page when a cooker goes into the sun.';
    } catch (refusal) {
      words.textContent = refusal.message;
    }
    more.disabled = false;
  };
  cooker.addEventListener('change', () => {
    list.replaceChildren();
    last = null;
    load();
  });
  place.replaceChildren(h('h1', {}, 'Cooks'),
    h('div', { class: 'bar' }, field('Cooker', cooker), compare), words, list, h('p', {}, more));
  load();
}
