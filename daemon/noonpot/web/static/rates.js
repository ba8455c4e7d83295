// What a cooker can do, in sentences: its profile, and the published tests.

import { get } from './api.js';
import { h } from './dom.js';
import { degrees, known, unitNow } from './units.js';

/** A rating may wait for others, and then takes a while itself. */
export const RATING_MS = 150_000;
const WATER_J_KGK = 4186;
const EXCESS_K = 50;

const fixed = (value) => (value < 2 ? value.toFixed(2) : value < 20 ? value.toFixed(1)
  : `${Math.round(value)}`);
const times = (number, factor) => ({ value: number.value * factor, low: number.low * factor,
  high: number.high * factor });
const between = ({ low, high }, tell = fixed) => `(${tell(low)} to ${tell(high)})`;
const count = (n, one) => `${n} ${one}${n === 1 ? '' : 's'}`;
const above = () => (unitNow() === 'F' ? `${EXCESS_K * 1.8} °F` : `${EXCESS_K} °C`);

function profile({ profile: numbers, cooks, seen_off_sun: off, sky_measured: seen }, cooker) {
  if (!cooks) {
    return [h('p', {}, 'Not enough cooks yet: none tells what kind of cooker it is. What is missing '
      + 'is a cook of some hours in the sun, with a probe in the pot, ended with Stop.')];
  }
  const gain = times(numbers.optical_gain, 100);
  const loss = times(numbers.loss_wm2k, cooker.aperture_m2 * EXCESS_K);
  const water = times(numbers.heat_capacity_j_k, 1 / WATER_J_KGK);
  const round = (value) => `${Math.round(value)}`;
  return [
    h('p', { class: 'quiet' }, `From ${count(cooks, 'cook')} that tell something. The truth lies `
      + 'within the brackets in 9 cases of 10.'),
    h('ul', { class: 'told' }, [
      `Empty, in full sun and air of ${degrees(25)}, it comes to ${
        degrees(numbers.stagnation_c.value)} at most ${between(numbers.stagnation_c, degrees)}.`,
      `Of the light on its opening ${round(gain.value)} % becomes heat ${between(gain, round)}.`,
      `When it is ${above()} hotter than the air, it loses ${round(loss.value)} W ${
        between(loss, round)}.`,
      `To warm it up empty takes as much heat as ${fixed(water.value)} kg of water ${
        between(water)}.`,
      `Pointed ${round(numbers.acceptance_deg.value)}° beside the sun it gets half the light ${
        between(numbers.acceptance_deg, round)}.${off ? ''
        : ' That is a guess: it was never seen so far off the sun.'}`,
      !seen && 'No sensor saw the sky in some cooks: these numbers lean on hours taken for clear.',
    ].filter(Boolean).map((line) => h('li', {}, line)))];
}

function power(rated) {
  const watts = rated.power_w;
  if (!watts) {
    return [h('p', {}, 'Cooking power: not enough cooks yet. Stretches of ten minutes that could be '
      + `rated: ${rated.observations}; it takes three. What is missing is water or other wet food `
      + 'whose mass was told, an air probe, and a sensor of light or a clear sky.')];
  }
  const open = Object.values(rated.conditions).filter((c) => c.not_met || c.not_known);
  const left = Object.entries(rated.whole_test).filter(([, met]) => !met);
  const lines = [...open.map((c) => `${c.words}: ${c.not_met ? 'not met' : 'not known'}`),
    ...left.map(([words]) => `${words}: not met`)];
  return [h('p', {}, h('b', {}, `Cooking power ${fixed(watts.value)} W`), ` at ${above()} above the `
    + `air (95 %: ${fixed(watts.low)} to ${fixed(watts.high)} W)${rated.estimate
      ? ', an estimate: no sensor measured the light' : ''}. ${lines.length
      ? `In the manner of ${rated.method.replace('in the manner of ', '')}, not by it.`
      : `Tested by ${rated.method}.`} It compares cookers, and promises nothing for one day.`),
  lines.length > 0 && h('details', {},
    h('summary', {}, `${count(lines.length, 'condition')} not met or not known`),
    h('ul', { class: 'told' }, lines.map((line) => h('li', {}, line))))];
}

function merit(found) {
  const range = (b, places) =>
    (b ? ` (95 %: ${b.low.toFixed(places)} to ${b.high.toFixed(places)})` : '');
  const guess = found.estimate ? ' An estimate: no sensor measured some of the light.' : '';
  const first = known(found.f1_m2k_w)
    ? `First figure of merit ${found.f1_m2k_w.toFixed(3)} m² K/W${range(found.f1_between, 3)}${
      found.f1_reckoned ? ', an estimate: the empty cooker was never seen at rest'
        : found.grade ? `, grade ${found.grade} of IS 13429` : ''}.`
    : 'First figure of merit: not enough cooks yet. What is missing is the empty cooker at rest in '
      + 'good sun, with an air probe.';
  const second = known(found.f2)
    ? `Second figure ${found.f2.toFixed(2)}${range(found.f2_between, 2)}, from ${
      count(found.warmings.length, 'load')}.`
    : `Second figure: not enough cooks yet. What is missing is a load of told mass that warms from ${
      degrees(60)} to ${degrees(90)} with its lid closed, in good light.`;
  return [h('p', {}, `${first} ${second}${guess}`)];
}

/** What is known of a cooker; it fills itself when `turn`, the cooker before it, is done. */
export function rated(cooker, turn) {
  const place = h('div', { class: 'rated', 'aria-live': 'polite' },
    h('p', { class: 'quiet' }, 'Rating it from its cooks …'));
  const done = turn.then(() => get(`/api/cookers/${cooker.name}/rating`, RATING_MS)).then((told) => {
    place.replaceChildren(...[profile(told.profile, cooker), power(told.power), merit(told.merit)]
      .flat().filter(Boolean));
  }, (refusal) => {
    place.replaceChildren(h('p', { class: 'error' }, refusal.message));
  });
  return [place, done];
}
