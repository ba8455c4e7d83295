// What to cook in a cooker, month by month: a table that is reckoned when somebody asks for it.

import { get } from './api.js';
import { HOT, GLARE, SECOND } from './cautions.js';
import { h } from './dom.js';
import { choice, field } from './forms.js';
import { timeNow } from './live.js';
import { RATING_MS } from './rates.js';
import { clockOf } from './time.js';
import { degrees, kilograms } from './units.js';

const SKIES = [['clear', 'clear'], ['thin', 'thin cloud'], ['broken', 'broken cloud']];
const UNDER = { clear: 'a clear sky', thin: 'thin cloud', broken: 'broken cloud' };
const WORDS = { good: 'good', fair: 'perhaps', poor: 'not to be recommended' };
const MONTHS = Array.from({ length: 12 }, (_, month) =>
  new Date(2026, month, 15).toLocaleDateString('en-GB', { month: 'long' }));
const TONES = [0.95, 0.8, 0.5, 0.2];

const plain = (food) => food.replaceAll('-', ' ');
const toneOf = (chance) => {
  const i = TONES.findIndex((least) => Math.round(chance * 100) / 100 >= least);
  return i < 0 ? 0 : TONES.length - i;
};
const number = (chance) => (chance > 0 && chance < 0.005 ? '<1'
  : chance >= 0.995 ? '>99' : `${Math.round(chance * 100)}`);
const days = (chance) => {
  const tenths = Math.round(chance * 10);
  return tenths === 10 ? 'nearly every day' : tenths > 1 ? `${tenths} days of 10` : 'hardly ever';
};

/** "In June bread gets done 9 days of 10 under a clear sky when it goes in …" */
function advice(cell) {
  return `In ${MONTHS[cell.month - 1]} ${plain(cell.food)} gets done ${days(cell.chance)} under ${
    UNDER[cell.sky]}${cell.load_at ? ` when it goes in at about ${clockOf(cell.load_at)}` : ''}${
    cell.latest_at ? `, by ${clockOf(cell.latest_at)} at the latest` : ''}.`;
}

function thisMonth(cells, sky) {
  const month = new Date(timeNow() || Date.now()).getMonth() + 1;
  const now = cells.filter((cell) => cell.month === month);
  const foods = (verdict) => now.filter((cell) => cell.verdict === verdict)
    .map((cell) => plain(cell.food)).join(', ');
  const best = now.filter(({ verdict }) => verdict === 'good')
    .reduce((a, b) => (a && a.chance >= b.chance ? a : b), null);
  return [
    h('p', { class: 'advice' }, best ? advice(best)
      : `Nothing can be recommended in ${MONTHS[month - 1]} under ${UNDER[sky]}.`),
    h('ul', { class: 'told' }, ['good', 'fair', 'poor'].filter(foods).map((verdict) =>
      h('li', {}, h('b', {}, `${WORDS[verdict][0].toUpperCase()}${WORDS[verdict].slice(1)}`),
        ` in ${MONTHS[month - 1]}: ${foods(verdict)}.`)))];
}

function months(told) {
  const rows = told.foods.map(({ food, mass_kg: mass }) => h('tr', {},
    h('th', { scope: 'row' }, plain(food), h('small', {}, ` ${kilograms(mass)}`)),
    told.cells.filter((cell) => cell.food === food).map((cell) => {
      const late = cell.latest_at ? `, in by ${clockOf(cell.latest_at)}` : '';
      return h('td', { class: `t${toneOf(cell.chance)}`, title: `${WORDS[cell.verdict]}${late}` },
        number(cell.chance), h('span', { class: 'unseen' }, ` %, ${WORDS[cell.verdict]}${late}`));
    })));
  const caption = `What ${told.cooker} gets done under ${UNDER[told.sky]}, chance in percent`;
  return [h('p', { class: 'quiet' }, 'The chance in percent that it gets done. The stronger the '
    + 'colour, the surer; 80 and more are good.'),
  h('div', { class: 'wide', tabindex: 0, role: 'group', 'aria-label': caption },
    h('table', { class: 'months' }, h('caption', { class: 'unseen' }, caption),
      h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'food'), MONTHS.map((month) =>
        h('th', { scope: 'col' }, h('span', { 'aria-hidden': 'true' }, month[0]),
          h('span', { class: 'unseen' }, month))))), h('tbody', {}, rows)))];
}

const basis = (told) => `On the 15th of each month, in air of ${degrees(told.air_c)}, turned every ${
  Math.round(told.turned_every_s / 60)} min. ${told.cooks ? '' : 'Not enough cooks yet: nobody has '
  + 'watched it, so these are guesses about any cooker of its size. '}A chance is no promise: have `
  + 'a second heat at hand.';

/** The question, and below it the answer when it comes. */
export function foods(cooker) {
  const sky = choice('sky', SKIES, 'clear');
  const answer = h('div', { 'aria-live': 'polite' });
  const button = h('button', { type: 'button' }, 'What can it cook, month by month?');
  button.addEventListener('click', async () => {
    button.disabled = true;
    answer.replaceChildren(h('p', { class: 'quiet' }, 'Reckoning the year: half a minute or so …'));
    try {
      const told = await get(`/api/cookers/${cooker.name}/foods?sky=${sky.value}`, RATING_MS);
      answer.replaceChildren(...thisMonth(told.cells, told.sky), ...months(told),
        h('p', { class: 'quiet' }, basis(told)),
        h('p', { class: 'caution' }, `${HOT} ${GLARE} ${SECOND.replace('This food', 'Some food')}`));
    } catch (refusal) {
      answer.replaceChildren(h('p', { class: 'error' }, refusal.message));
    }
    button.disabled = false;
  });
  return [h('div', { class: 'bar' }, field('Sky', sky), button), answer];
}
