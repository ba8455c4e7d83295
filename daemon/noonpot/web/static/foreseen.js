// The forecasts of a cook as they were given, and what came of them.

import { Chart } from './chart.js';
import { h } from './dom.js';
import { section, table } from './forms.js';
import { clock, clockOf, seconds, span } from './time.js';
import { percent } from './units.js';

/** When it was said to be done, from forecast to forecast, against when it was; null where nothing
 * was foreseen. What it draws goes into `charts`. */
export function foreseen(cook, charts) {
  const done = cook.done && seconds(cook.done);
  const given = cook.forecasts.filter(({ time, done_p50: middle }) =>
    middle && (!done || seconds(time) < done));
  if (given.length < 2) return null;
  const first = given[Math.floor(given.length / 3)];
  const hit = done && given.filter((one) =>
    seconds(one.done_p10) <= done && done <= seconds(one.done_p90));
  const outcome = done
    ? `It was done at ${clockOf(cook.done)}; ${hit.length} of ${
      given.length} forecasts had that within their eight times in ten.`
    : 'It did not get done, as far as was measured.';
  const every = Math.max(1, Math.ceil(given.length / 12));
  return section('Foreseen, and what came of it', h('p', {}, outcome),
    h('p', { class: 'quiet' }, `At ${clockOf(first.time)}, for one, it said: chance ${
      percent(first.p_done)}, about ${clockOf(first.done_p50)}.`),
    ribbon(given, done, charts),
    table('Forecasts as they were given', ['said at', 'chance', 'about', 'between', 'was off by'],
      given.filter((_, i) => i % every === 0).map((one) => [clockOf(one.time), percent(one.p_done),
        clockOf(one.done_p50), `${clockOf(one.done_p10)} – ${clockOf(one.done_p90)}`,
        done ? offBy(seconds(one.done_p50) - done) : '–'])));
}

const offBy = (s) => (Math.abs(s) < 60 ? 'nothing' : `${span(s)} ${s > 0 ? 'late' : 'early'}`);

function ribbon(given, done, charts) {
  const time = given.map((one) => seconds(one.time));
  const of = (key) => given.map((one) => seconds(one[key]));
  const curves = [{ kind: 'likely', name: 'said to be done', time, values: of('done_p50') },
    { kind: 'low', time, values: of('done_p10') }, { kind: 'high', time, values: of('done_p90') }];
  if (done) {
    const ends = [time[0], time.at(-1)];
    curves.push({ kind: 'was', name: 'was done', time: ends, values: [done, done] });
  }
  const drawn = new Chart({ label: 'When it was said to be done, as time went by', height: 200,
    curves, reads: clock });
  charts.push(drawn);
  return drawn.element;
}
