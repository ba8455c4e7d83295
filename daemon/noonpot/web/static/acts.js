// What a person does at a cooker, and tells it: two taps each.

import { about } from './api.js';
import { ask, needed, numberIn, numeric } from './ask.js';
import { GLARE, HOT, SECOND } from './cautions.js';
import { h } from './dom.js';
import { choice, field } from './forms.js';
import { nextAt, seconds } from './time.js';
import { timeNow } from './live.js';
import { tell } from './said.js';
import { forField, fromUnit, known, unitNow } from './units.js';

const unnamed = 'something else, with a target';

function foodField(chosen) {
  const names = about.foods.map(({ name }) => [name, name.replaceAll('-', ' ')]);
  return choice('food', [...names, ['', unnamed]], names.some(([n]) => n === chosen) ? chosen : '');
}

function dish(cook) {
  const food = foodField(cook?.food ?? about.foods[0]?.name);
  const target = numeric('target', forField(cook?.food ? null : cook?.target_c));
  const targetField = field(`Done at a core of, °${unitNow()}`, target);
  const meal = h('input', { name: 'meal', type: 'time' });
  const note = h('p', { class: 'quiet' });
  const look = () => {
    const named = about.foods.find(({ name }) => name === food.value);
    targetField.hidden = Boolean(named);
    note.textContent = named?.caution ?? '';
  };
  food.addEventListener('change', look);
  look();
  return {
    fields: [field('What', food), targetField, field('To be eaten at, if it matters', meal), note],
    body: () => ({
      ...(food.value ? { food: food.value }
        : { target_c: fromUnit(needed(numberIn(target, 'The target'), 'The target')) }),
      ...(meal.value ? { meal: nextAt(meal.value, seconds(timeNow())) } : {}),
    }),
  };
}

function start(cooker) {
  const { fields, body } = dish(null);
  ask({ title: `Start a cook in ${cooker}`, fields, caution: GLARE, confirm: 'Start',
    send: (id) => tell(cooker, 'start', body(), id) });
}

function load(cooker, { cook }) {
  const { fields, body } = dish(cook);
  const mass = numeric('mass', '', 'for instance 0.6');
  const begin = numeric('start');
  ask({ title: `Put the food into ${cooker}`,
    fields: [fields[0], field('How much, kg', mass, 'Without it the forecast is vaguer.'),
      field(`How warm it is, °${unitNow()}`, begin), ...fields.slice(1)],
    caution: `${HOT} Mind the glare.`, confirm: 'It is in',
    send: (id) => {
      const kg = numberIn(mass, 'How much', 0.001, 50);
      const warm = numberIn(begin, 'How warm');
      return tell(cooker, 'load', { ...body(), ...(kg === undefined ? {} : { mass_kg: kg }),
        ...(warm === undefined ? {} : { start_c: fromUnit(warm) }) }, id);
    } });
}

function aim(cooker, { sun }) {
  const off = about.declination_deg;
  const round = (value) => (known(value) ? `${Math.round(value)}` : '');
  const azimuth = numeric('azimuth', round(sun?.azimuth_deg));
  const elevation = numeric('elevation', round(sun?.up ? sun.elevation_deg : null));
  const north = choice('north', [['true', 'by the map'], ['compass', 'by a compass']], 'true');
  ask({ title: `${cooker} now points to`,
    fields: [field('Bearing, degrees', azimuth, sun?.up ? 'This is where the sun stands now.' : ''),
      known(off) && field('Read', north), field('Tilt above the horizon, degrees', elevation)],
    caution: GLARE, confirm: 'It points there',
    send: (id) => {
      const read = needed(numberIn(azimuth, 'The bearing', 0, 360), 'The bearing');
      const tilt = needed(numberIn(elevation, 'The tilt', 0, 90), 'The tilt');
      const bearing = north.value === 'compass' ? (read + off + 360) % 360 : read;
      return tell(cooker, 'aim', { azimuth: bearing, elevation: tilt }, id);
    } });
}

function mark(cooker) {
  const what = choice('what', [['lid', 'The lid was open'], ['uncovered', 'It was uncovered'],
    ['covered', 'It was covered'], ['note', 'A note, in my words']]);
  const text = h('input', { name: 'text', maxlength: 200, autocomplete: 'off' });
  const words = field('The note', text);
  const look = () => { words.hidden = what.value !== 'note'; };
  what.addEventListener('change', look);
  look();
  ask({ title: `Mark at ${cooker}`, fields: [field('What', what), words], confirm: 'Mark it',
    send: (id) => tell(cooker, 'mark', what.value === 'lid' ? { what: 'lid' } : { what: 'note',
      text: what.value === 'note' ? needed(text.value.trim(), 'The note') : what.value }, id) });
}

function spot(cooker, { cook }) {
  const core = numeric('core');
  ask({ title: 'What your own thermometer shows',
    fields: [field(`In the middle of the food, °${unitNow()}`, core)],
    caution: `${HOT}${cook?.hazardous ? ' Measure in the coldest spot.' : ''}`, confirm: 'Note it',
    send: (id) => tell(cooker, 'mark', { what: 'spot',
      core_c: fromUnit(needed(numberIn(core, 'The temperature'), 'The temperature')) }, id) });
}

function unload(cooker, { cook }) {
  ask({ title: `Take the food out of ${cooker}`, confirm: 'It is out',
    caution: cook?.hazardous === false ? HOT : `${HOT} ${SECOND}`,
    send: (id) => tell(cooker, 'unload', {}, id) });
}

function stop(cooker, { cook }) {
  ask({ title: `End the cook in ${cooker}`, danger: Boolean(cook?.loaded_at), confirm: 'End it',
    caution: cook?.loaded_at ? 'The food is still in. From now on nobody watches it.'
      : 'Cover the cooker or turn it away from the sun: what it gathers can burn.',
    send: (id) => tell(cooker, 'stop', {}, id) });
}

export const ACTS = { start, load, aim, mark, spot, unload, stop };
