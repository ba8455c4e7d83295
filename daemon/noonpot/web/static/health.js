// Whether Noonpot itself is well, and who may look at it.

import { about, get } from './api.js';
import { alarmList } from './alarms.js';
import { h, swap } from './dom.js';
import { section } from './forms.js';
import { alarmsOf, link, listen } from './live.js';
import { shares } from './shares.js';
import { clockOf, when } from './time.js';
import { degrees, known, unitNow } from './units.js';

const AGAIN_MS = 15_000;
const size = (bytes) => (!known(bytes) ? 'not known' : bytes < 1e6 ? 'below 1 MB' : bytes < 1e9
  ? `${Math.round(bytes / 1e6)} MB` : `${(bytes / 1e9).toFixed(1)} GB`);
const line = (good, words) => h('li', { class: good ? 'good' : 'bad' },
  h('span', { 'aria-hidden': 'true' }, good ? '● ' : '▲ '), words);

function reading({ role, value }) {
  if (!known(value)) return '–';
  return role === 'irradiance' ? `${Math.round(value)} W/m²` : degrees(value);
}

const ROLES = { ambient: 'air outside', irradiance: 'sunlight' };

function probes(list) {
  return h('ul', { class: 'probes' }, list.map((probe) => {
    const { name, role, cooker, value, time, fault, cure, calibration } = probe;
    return h('li', {},
      h('span', {}, h('b', {}, name), ` ${ROLES[role] ?? role}${cooker ? ` of ${cooker}` : ''}`),
      h('span', {}, reading({ role, value }), h('small', {}, ` ${clockOf(time)}`)),
      fault && h('p', { class: 'error' },
        `▲ ${[fault.replaceAll('-', ' '), cure].filter(Boolean).join(': ')}`),
      calibration && h('p', { class: 'quiet' }, calibration.words));
  }));
}

function parts({ health, store, clock, backup, page }) {
  return h('ul', { class: 'parts' },
    line(link.online && link.alive, link.online && link.alive ? 'The watch is heard.'
      : 'The watch is not heard: nobody watches the food.'),
    line(clock?.trusted, clock?.trusted ? 'Its clock is set.'
      : 'Its clock is not set: give it a network. Temperatures hold meanwhile.'),
    store && line(!store.problem, `${store.problem ? `Card: ${store.problem}.`
      : 'The card takes what is measured:'} ${size(store.bytes)} kept, ${
      size(store.free_bytes)} free.`),
    (health?.channels ?? []).map(({ channel, problem }) =>
      line(!problem, problem ? `${channel}: ${problem}` : `${channel}: messages get through.`)),
    backup && line(!backup.problem, `${backup.time
      ? `Last backup ${when(backup.time, health?.time)}` : 'No backup yet'}${
      backup.problem ? `; the next one failed: ${backup.problem}.` : '.'}`),
    (page?.refused ?? []).map(({ words }) => line(false, `Turned away: ${words}.`)));
}

function counts(health) {
  const pairs = Object.entries(health?.counts ?? {});
  return pairs.length ? h('details', {}, h('summary', {}, 'Counts, for who looks for a fault'),
    h('dl', { class: 'facts' }, pairs.map(([name, count]) =>
      [h('dt', {}, name.replaceAll('-', ' ')), h('dd', {}, `${count}`)]))) : null;
}

export function open(place) {
  const body = h('div', {}, h('p', { class: 'quiet' }, 'Looking …'));
  const alarms = h('div');
  const load = async () => {
    try {
      const said = await get('/api/health');
      swap(body, [said, link, unitNow()], () => [
        section('Parts', parts(said), counts(said.health)),
        section('Probes', said.probes.length ? probes(said.probes)
          : h('p', { class: 'quiet' }, 'No probe is in the configuration.'))]);
    } catch (refusal) {
      swap(body, refusal.message, () => h('p', { class: 'error' }, refusal.message));
    }
  };
  const look = () => swap(alarms, [alarmsOf('station'), about.viewer.may_write],
    () => alarmList(alarmsOf('station')));
  place.replaceChildren(h('h1', {}, 'Health'), alarms, body,
    ...(about.viewer.may_write ? [shares()] : []));
  look();
  load();
  const ending = listen((name) => {
    if (name === 'link') load();
    look();
  });
  const again = setInterval(load, AGAIN_MS);
  return () => {
    ending();
    clearInterval(again);
  };
}
