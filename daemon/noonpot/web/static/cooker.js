// The card of one cooker: what to do, how hot, when done, and the buttons.

import { about, get } from './api.js';
import { alarmList, ringing } from './alarms.js';
import { buttons } from './buttons.js';
import { cautionOf, COVER, GLARE, HOT, SECOND } from './cautions.js';
import { Chart } from './chart.js';
import { dial } from './dial.js';
import { h, swap, write } from './dom.js';
import { doubted, learn, trouble } from './doubts.js';
import { chance, fits, holdOf, lastMoment, skyWords } from './foresight.js';
import { alarmsOf, link, timeNow, topic } from './live.js';
import { clockOf, from, isoOf, seconds, span } from './time.js';
import { bare, degrees, kilograms, known, unitNow } from './units.js';

const OLD_S = 180;
const BURNS_C = 60; // a pot that nobody should touch, though nothing cooks in it
const TURN_DEG = 10; // from here on somebody may go and turn it, told to or not
const BEFORE_S = 2 * 3600;
const AFTER_S = 3600; // so much of the fan is shown beyond its late end
const DRAW_MS = 1000;
const MOST_POINTS = 1800;
const PARTS = ['stage', 'advice', 'care', 'alarms', 'core', 'others', 'chance', 'trouble', 'more',
  'sun', 'acts'];
const COLUMNS = ['pot_c', 'core_c', 'ambient_c'];
const none = () => ({ time: [], pot_c: [], core_c: [], ambient_c: [] });

export class Cooker {
  constructor(name) {
    this.name = name;
    this.curve = none();
    this.drawn = -Infinity;
    this.parts = Object.fromEntries(
      PARTS.map((part) => [part, h('div', { class: part })]));
    const { stage, advice, care, alarms, core, others, chance: odds, trouble: doubts, more,
      sun, acts } = this.parts;
    this.chart = new Chart(this.#spec(null, null));
    this.element = h('article', { class: 'card', 'aria-labelledby': `name-${name}` },
      h('header', {}, h('h2', { id: `name-${name}` }, name), stage),
      h('div', { class: 'first' }, advice, h('div', { class: 'values' }, core, others), odds, care,
        alarms, doubts, more, acts),
      h('div', { class: 'second' }, this.chart.element, sun));
    this.#fetch();
  }

  get now() {
    return topic(`${this.name}/now`);
  }

  async #fetch() {
    const until = seconds(this.now?.time ?? timeNow() ?? '');
    const since = this.now?.cook ? seconds(this.now.cook.since) : until - BEFORE_S;
    this.since = since;
    if (!(until > since)) {
      this.curve = none();
      return;
    }
    try {
      const query = `since=${isoOf(since)}&until=${isoOf(until)}&points=600`;
      this.curve = await get(`/api/cookers/${this.name}/curve?${query}`);
      this.drawn = -Infinity;
      this.update();
    } catch { /* the strip at the top tells; the numbers go on */ }
  }

  /** Take in what was heard: `name` is a topic, or "link" when the connection has changed. */
  update(name) {
    const now = this.now;
    if (name === `${this.name}/now`) this.#grow(now);
    const another = now?.cook && Math.abs(seconds(now.cook.since) - this.since) > 60;
    if (another || (name === 'link' && link.online)) this.#fetch();
    const forecast = topic(`${this.name}/forecast`);
    const alarms = alarmsOf(this.name);
    this.#words(now, fits(forecast, now?.cook) ? forecast : null, alarms);
    if (performance.now() - this.drawn > DRAW_MS) {
      this.drawn = performance.now();
      this.chart.show(this.#spec(now, fits(forecast, now?.cook) ? forecast : null));
    }
    learn(now?.faults, () => this.update());
  }

  #grow(now) {
    const at = seconds(now.time);
    const last = this.curve.time.at(-1) ?? 0;
    if (at <= last) return;
    this.curve.time.push(at);
    COLUMNS.forEach((column) => this.curve[column].push(now[column] ?? null));
    if (this.curve.time.length > MOST_POINTS) {
      this.curve.time.length = 0;
      this.#fetch();
    }
  }

  #words(now, forecast, alarms) {
    const { parts } = this;
    const cook = now?.cook;
    const inPot = Boolean(cook?.loaded_at);
    const old = !link.online || !link.alive || !now
      || seconds(timeNow()) - seconds(now.time) > OLD_S;
    const done = alarms.some(({ alarm, state }) => alarm === 'done' && state !== 'normal'
      && state !== 'suppressed');
    this.element.classList.toggle('old', old);
    const stage = !now ? 'not heard yet' : !cook ? 'resting' : done ? 'done'
      : inPot ? 'cooking' : cook.emptied ? 'taken out' : 'heating up';
    const food = cook && [cook.food || 'food without a name', kilograms(cook.mass_kg)]
      .filter(Boolean).join(', ');
    write(parts.stage, [food, stage, old && now && `as of ${clockOf(now.time)}`]
      .filter(Boolean).join(' · '));
    write(parts.advice, now?.advice ?? (cook ? 'Nothing to do.' : 'Nothing is cooking here.'));
    write(parts.care, cautions(now, alarms));
    const key = alarms.map(({ alarm, state, text, since }) => [alarm, state, text, since]);
    swap(parts.alarms, [key, now?.advice_alarm, about.viewer.may_write], () =>
      alarmList(alarms, now?.advice_alarm));
    this.#numbers(now, cook, forecast);
    this.odds = forecast ? chance(forecast, cook, done) : '';
    write(parts.chance, this.odds);
    const blind = inPot && now.core_c === null && !forecast?.core_estimated;
    swap(parts.trouble, [now?.faults, blind], () => trouble(now?.faults ?? [], blind));
    swap(parts.more, [forecast?.reasons, lastMoment(forecast), forecast?.clear_sky_index,
      forecast?.core_estimated, now?.safety, now?.sun?.up, unitNow()], () => facts(now, forecast));
    swap(parts.sun, [now?.sun, now?.aim], () => now && dial(now, about.declination_deg));
    const hot = !known(cook?.loading_pot_c) || now.pot_c >= cook.loading_pot_c;
    const due = !cook || (inPot ? done : hot);
    swap(parts.acts, [stage, due, about.viewer.may_write], () =>
      (about.viewer.may_write ? buttons(this.name, () => this.now, due) : null));
  }

  /** Large is what counts now: the core of the food, or else the pot that heats up for it. */
  #numbers(now, cook, forecast) {
    const { parts } = this;
    const inside = Boolean(cook?.loaded_at);
    const guess = forecast?.core_estimated ? forecast.curve[0]?.core_p50 : null;
    const main = inside ? now.core_c ?? guess : now?.pot_c;
    const guessed = inside && !known(now.core_c) && known(guess);
    const name = !inside ? 'pot' : guessed ? 'core, estimated' : 'core';
    const source = inside && !guessed ? 'core' : 'pot';
    const doubts = { pot: doubted(now?.faults, 'pot'), core: doubted(now?.faults, 'core') };
    const marks = (role, c) => (doubts[role] && known(c) ? ', not believed' : '');
    swap(parts.core, [main, name, doubts, unitNow()], () => {
      const doubt = marks(source, main);
      return [h('p', { class: doubt ? 'big doubted' : 'big' }, big(main)),
        h('p', { class: 'what' }, `${name}${doubt}`)];
    });
    swap(parts.others, [now, doubts, unitNow()], () => [
      inside ? pair('pot', now.pot_c, marks('pot', now.pot_c))
        : pair('core probe', now?.core_c, marks('core', now?.core_c)),
      known(cook?.loading_pot_c) && !inside && pair('pot to load', cook.loading_pot_c),
      known(cook?.target_c)
        && pair(holdOf(cook) ? `core, for ${span(cook.hold_s)}` : 'core when done', cook.target_c),
      known(now?.ambient_c) && pair('outside', now.ambient_c)]);
  }

  #spec(now, forecast) {
    const end = forecast?.done_p90 ? seconds(forecast.done_p90) + AFTER_S : Infinity;
    const fan = (forecast?.curve ?? []).filter((point) => seconds(point.time) <= end);
    const at = fan.map((point) => seconds(point.time));
    const of = (key) => fan.map((point) => point[key]);
    const { time } = this.curve;
    const line = (kind, name, key) => ({ kind, name, time, values: this.curve[key] });
    const core = line('core', 'core', 'core_c');
    if (now?.cook?.loaded_at) core.values = from(core, seconds(now.cook.loaded_at));
    return {
      label: now ? `${this.name}: pot ${degrees(now.pot_c)}, core ${degrees(now.core_c)}. ${
        this.odds}` : this.name,
      height: 230,
      target: now?.cook?.target_c ?? null,
      curves: [line('pot', 'pot', 'pot_c'), core,
        line('ambient', 'outside', 'ambient_c'),
        { kind: 'low', time: at, values: of('core_p10') },
        { kind: 'high', time: at, values: of('core_p90') },
        { kind: 'likely', name: 'likely core', time: at, values: of('core_p50') }],
      empty: 'No curve yet: it grows from here on.',
    };
  }

  close() {
    this.chart.close();
  }
}

/** What to mind, for all that is asked for now; each thing once. */
function cautions(now, alarms) {
  const asked = ringing(alarms).map(({ alarm }) => cautionOf(alarm));
  if (now?.misaim_deg > TURN_DEG && now.cook) asked.push(GLARE);
  if (now?.pot_c >= BURNS_C && !now.cook) asked.push(COVER);
  const risky = now?.cook?.loaded_at && now.cook.hazardous !== false && asked.includes(HOT);
  return [...new Set(asked), risky ? SECOND : ''].filter(Boolean).join(' ');
}

const big = (c) => (known(c) ? [`${bare(c)}`, h('small', {}, ` °${unitNow()}`)] : ['–']);
const pair = (name, c, doubt = '') => h('p', {},
  h('b', { class: doubt ? 'doubted' : null }, degrees(c)),
  h('span', { class: 'what' }, `${name}${doubt}`));

function facts(now, forecast) {
  const list = [];
  const say = (text, mark) => text && list.push(h('li', { class: mark }, text));
  const safety = now?.safety;
  if (safety?.unsafe_s >= 60) {
    say(`${safety.unsafe_s > safety.limit_s * 0.75 ? '▲ ' : ''}Between ${degrees(5)} and ${
      degrees(57)}, or unseen, for ${span(safety.unsafe_s)}${safety.unseen_s >= 60
      ? ` (${span(safety.unseen_s)} unseen)` : ''}; ${span(safety.limit_s)} is the limit.`);
  }
  if (safety?.safe) say('It was hot for long enough to be safe, where the probe is.');
  say(lastMoment(forecast));
  if (forecast && now?.sun?.up !== false) say(skyWords(forecast.clear_sky_index)
    && `Sky: ${skyWords(forecast.clear_sky_index)}.`);
  if (forecast?.core_estimated) say('No probe is in this food: its core is an estimate.');
  forecast?.reasons.forEach((reason) => say(`${reason.charAt(0).toUpperCase()}${reason.slice(1)}.`
    .replace(/\.\.$/, '.')));
  return list.length ? h('ul', { class: 'notes' }, list) : null;
}
