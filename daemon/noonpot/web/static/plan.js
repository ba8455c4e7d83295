// Will it cook? The question as a form, and the answer as a sentence, a timetable and a curve.

import { about, post } from './api.js';
import { numberIn, numeric } from './ask.js';
import { HOT, GLARE, SECOND } from './cautions.js';
import { Chart } from './chart.js';
import { h } from './dom.js';
import { choice, field, table } from './forms.js';
import { timeNow } from './live.js';
import { differs, seconds, span } from './time.js';
import { bearing, degrees, fromUnit, kilograms, percent, unitNow } from './units.js';
import { timesIn } from './zones.js';

const SKIES = [['', 'as skies come'], ['clear', 'clear'], ['thin', 'thin cloud'],
  ['broken', 'broken cloud'], ['overcast', 'overcast']];
const DAYS = [['', 'next daylight'], ['today', 'today'], ['tomorrow', 'tomorrow']];
const RHYTHMS = [['', 'as usual'], ['15', 'every 15 min'], ['30', 'every 30 min'],
  ['60', 'every hour'], ['120', 'every 2 hours'], ['left', 'never: I am away']];
let chart = null;
let times = null; // as the clocks of the station show them: its person stands there with the food

const clockOf = (iso) => times.clockOf(iso);

/** Whether who looks has other clocks than the station; then the zone is named. */
const apart = () => differs(about.timezone, seconds(timeNow()) || 0);

function form(answer) {
  const time = (name) => h('input', { type: 'time', name });
  const theirs = apart() ? `time of ${about.timezone}` : '';
  const foods = about.foods.map(({ name }) => [name, name.replaceAll('-', ' ')]);
  const usual = foods.some(([name]) => name === 'bread') ? 'bread' : undefined;
  const food = choice('food', foods, usual);
  const cooker = choice('cooker',
    [['', 'compare all'], ...about.cookers.map(({ name }) => [name, name])]);
  const mass = numeric('mass_kg', '', 'as usual');
  const start = numeric('start_c', '', 'as usual');
  const sky = choice('sky', SKIES);
  const day = choice('on', DAYS);
  const meal = time('meal');
  const at = time('at');
  const rhythm = choice('turn', RHYTHMS);
  const button = h('button', { class: 'main' }, 'Will it cook?');
  const error = h('p', { class: 'error', role: 'alert' });
  return h('form', { class: 'asks', novalidate: true, onsubmit: async (event) => {
    event.preventDefault();
    button.disabled = true;
    error.textContent = '';
    answer.replaceChildren(h('p', { class: 'quiet' }, 'Playing the day many times over …'));
    try {
      const warm = numberIn(start, 'How warm it is');
      const wish = { food: food.value, cooker: cooker.value || undefined,
        mass_kg: numberIn(mass, 'How much', 0.02, 50), sky: sky.value || undefined,
        start_c: warm === undefined ? undefined : fromUnit(warm), on: day.value || undefined,
        meal: meal.value || undefined, at: at.value || undefined,
        left: rhythm.value === 'left' || undefined,
        turn_every: Number(rhythm.value) || undefined };
      show(answer, (await post('/api/plan', wish)).plans, wish.sky);
    } catch (refusal) {
      answer.replaceChildren();
      error.textContent = refusal.message;
    }
    button.disabled = false;
  } },
  field('What', food), field('How much, kg', mass), field('Eaten at', meal, theirs),
  field('Sky', sky), field('Day', day), field('Cooker', cooker),
  field(`How warm it is, °${unitNow()}`, start),
  field('Put in at', at, theirs || 'else at its best time'), field('Turned', rhythm), error,
  h('p', { class: 'row' }, button));
}

/** The chance that counts: to be done by the meal, if there is one. */
const odds = (loading) => loading.p_meal ?? loading.p_done;
const most = (plan) => Math.max(odds(plan), ...plan.hours.map(odds));

function verdict(plan) {
  const food = plan.food.replaceAll('-', ' ');
  if (!plan.worth) {
    return `No: the chance is ${percent(most(plan))} at best. Cook ${food} another way.`;
  }
  const by = plan.meal ? ` to be done by ${clockOf(plan.meal)}` : ' to get done';
  return `Yes: put into ${plan.cooker} at ${clockOf(plan.load_at)}, ${food} has a chance of ${
    percent(odds(plan))}${by}.`;
}

function timetable(plan, hazardous) {
  const steps = [];
  const step = (iso, words) => iso && steps.push([iso, words]);
  if (plan.out_at !== plan.load_at) {
    step(plan.out_at, `Put the empty cooker into the sun${plan.p_hot === null ? ''
      : ` (chance ${percent(plan.p_hot)} that its pot is hot in time)`}.`);
  }
  step(plan.load_at, 'Put the food in.');
  if (plan.aim) {
    step(plan.load_at, `Aim it at ${bearing(plan.aim.azimuth_deg)}, tilt ${
      Math.round(plan.aim.elevation_deg)}°, and leave it.`);
  }
  step(plan.done_p50, `Done about now, if it gets done: between ${clockOf(plan.done_p10)} and ${
    clockOf(plan.done_p90)} eight times in ten.`);
  step(plan.latest_load_at, 'The latest moment to put it in.');
  step(plan.rescue_at, `If it goes poorly, move it to another heat by now ${
    plan.rescue_because === 'meal' ? 'to be in time.' : 'or discard it.'}`);
  steps.sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0));
  return [h('ol', { class: 'steps' }, steps.map(([iso, words]) =>
    h('li', {}, h('time', { datetime: iso }, clockOf(iso)), h('span', {}, words)))),
  h('p', { class: 'caution' }, `${HOT} ${GLARE}${hazardous ? ` ${SECOND}` : ''}`)];
}

function hours(plan) {
  const rows = plan.hours.map((row) => Object.assign([clockOf(row.load_at), clockOf(row.out_at),
    percent(row.p_done), ...(plan.meal ? [percent(row.p_meal)] : []), clockOf(row.done_p50),
    row.done_p10 ? `${clockOf(row.done_p10)} – ${clockOf(row.done_p90)}` : '–',
    row.done_p50 ? span(seconds(row.done_p50) - seconds(row.load_at)) : '–'],
  row.load_at === plan.load_at ? { mark: 'chosen' } : {}));
  return table(`Hours of loading ${plan.cooker}`, ['put in', 'cooker out', 'chance',
    ...(plan.meal ? ['by meal'] : []), 'done about', 'between', 'takes'], rows);
}

function drawn(plan) {
  const time = plan.curve.map((point) => seconds(point.time));
  const of = (key) => plan.curve.map((point) => point[key]);
  chart?.close();
  chart = new Chart({ label: `The core of ${plan.food} in ${plan.cooker}, as foreseen`,
    target: plan.target_c, height: 240, clock: times.clock,
    curves: [{ kind: 'likely', name: 'likely core', time, values: of('core_p50') },
      { kind: 'low', time, values: of('core_p10') },
      { kind: 'high', time, values: of('core_p90') }] });
  return chart.element;
}

function one(plan, asked) {
  const food = about.foods.find(({ name }) => name === plan.food);
  return [
    h('p', { class: 'quiet' }, `${times.dayOf(plan.load_at ?? plan.sun_from)}${
      apart() ? `, in times of the station, ${times.zone}` : ''}. ${
      kilograms(plan.mass_kg)} from ${degrees(plan.start_c)}, done at a core of ${
      degrees(plan.target_c)}${plan.hold_s ? `, held for ${span(plan.hold_s)}` : ''}. Sky: ${asked
      ? plan.sky : 'as skies come, which knows nothing of your climate'}. The sun is of use from ${
      clockOf(plan.sun_from)} to ${clockOf(plan.sun_lost)}. ${plan.cooks_known
      ? `What ${plan.cooker} can do is known from ${plan.cooks_known} watched ${
        plan.cooks_known === 1 ? 'cook' : 'cooks'}.`
      : `${plan.cooker} was never watched yet: the chances are low and the times wide.`}`),
    food?.caution && h('p', { class: 'caution' }, food.caution),
    plan.done_p50 && timetable(plan, food?.hazardous !== false),
    plan.curve.length > 1 && drawn(plan), hours(plan)].flat().filter(Boolean);
}

function show(answer, plans, sky) {
  const best = plans.reduce((a, b) => (odds(b) > odds(a) ? b : a));
  const detail = h('div', {});
  const compare = plans.length > 1 && table('Cookers compared',
    ['cooker', 'chance', 'put in', 'done about', 'latest'],
    plans.map((plan) => Object.assign([
      h('button', { type: 'button', onclick: () => tell(plan) }, plan.cooker), percent(odds(plan)),
      clockOf(plan.load_at), clockOf(plan.done_p50), clockOf(plan.latest_load_at)],
    plan === best ? { mark: 'chosen' } : {})));
  const sentence = h('h2', { class: 'advice' });
  const tell = (plan) => {
    sentence.textContent = verdict(plan);
    detail.replaceChildren(...one(plan, sky));
  };
  tell(best);
  answer.replaceChildren(sentence, ...(compare ? [compare] : []), detail);
}

export function open(place) {
  times = timesIn(about.timezone);
  const answer = h('section', { class: 'card', 'aria-live': 'polite', 'aria-label': 'The answer' });
  place.replaceChildren(h('h1', {}, 'Will it cook?'), form(answer), answer);
  return () => {
    chart?.close();
    chart = null;
  };
}
