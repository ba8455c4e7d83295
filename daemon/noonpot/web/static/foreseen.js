// The forecasts of a cook as they were given, and what came of them.

import { Chart } from './chart.js';
import { h } from './dom.js';
import { section, table } from './forms.js';
import { clock, clockOf, seconds, span } from './time.js';
import { percent } from './units.js';

/** When it was said to reach its target, from forecast to forecast, against when it did; null where
 * nothing was foreseen. What it draws goes into `charts`. */
export function foreseen(cook, charts) {
  const reached = cook.reached && seconds(cook.reached);
  const given = cook.forecasts.filter(({ time, done_p50: middle }) =>
    middle && (!reached || seconds(time) < reached));
  if (given.length < 2) return null;
  const first = given[Math.floor(given.length / 3)];
  const hit = reached && given.filter((one) =>
    seconds(one.done_p10) <= reached && reached <= seconds(one.done_p90));
  const outcome = reached
    ? `It reached its target at ${clockOf(cook.reached)}; ${hit.length} of ${
      given.length} forecasts had that within their eight times in ten.`
    : 'It did not reach its target, as far as was measured.';
  const every = Math.max(1, Math.ceil(given.length / 12));
  return section('Foreseen, and what came of it', h('p', {}, outcome),
    h('p', { class: 'quiet' }, `At ${clockOf(first.time)}, for one, it said: chance ${
      percent(first.p_done)}, target about ${clockOf(first.done_p50)}.`),
    ribbon(given, reached, charts),
    table('Forecasts as they were given', ['said at', 'chance', 'about', 'between', 'was off by'],
      given.filter((_, i) => i % every === 0).map((one) => [clockOf(one.time), percent(one.p_done),
        clockOf(one.done_p50), `${clockOf(one.done_p10)} – ${clockOf(one.done_p90)}`,
        reached ? offBy(seconds(one.done_p50) - reached) : '–'])));
}

const offBy = (s) => (Math.abs(s) < 60 ? 'nothing' : `${span(s)} ${s > 0 ? 'late' : 'early'}`);

function ribbon(given, reached, charts) {
  const time = given.map((one) => seconds(one.time));
  const of = (key) => given.map((one) => seconds(one[key]));
  const curves = [{ kind: 'likely', name: 'foreseen', time, values: of('done_p50') },
    { kind: 'low', time, values: of('done_p10') }, { kind: 'high', time, values: of('done_p90') }];
  if (reached) {
    const ends = [time[0], time.at(-1)];
    curves.push({ kind: 'was', name: 'reached', time: ends, values: [reached, reached] });
  }
  const drawn = new Chart({ label: 'When it was said to reach its target, as time went by',
    height: 200, curves, reads: clock });
  charts.push(drawn);
  return drawn.element;
}
