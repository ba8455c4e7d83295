// The frame: which view is shown, what stands above and below it, what is said aloud.

import { about, remove } from './api.js';
import { ringing } from './alarms.js';
import { brought, byId, h, swap, write } from './dom.js';
import { alarmsOf, begin, connect, end, link, listen, timeNow, topic } from './live.js';
import { clockOf, differs, seconds, zone } from './time.js';
import { keepSession, sessionKept } from './kept.js';
import { chooseUnit, unitNow, useUnit } from './units.js';

const VIEWS = [['now', 'Now'], ['plan', 'Plan'], ['cooks', 'Cooks'], ['cookers', 'Cookers'],
  ['health', 'Health']];
const ICONS = {
  now: 'M12 3v2M12 19v2M3 12h2M19 12h2M12 8a4 4 0 1 0 0 8a4 4 0 1 0 0-8',
  plan: 'M5 5h14v15H5zM5 10h14M9 3v4M15 3v4',
  cooks: 'M4 19V5M4 19h16M7 15c3 0 4-8 12-8',
  cookers: 'M4 10h16v2a7 7 0 0 1-7 7h-2a7 7 0 0 1-7-7zM8 6h8',
  health: 'M3 12h4l2-5 4 10 2-5h6',
};
let close = () => {};
let shown = '';

function navigation() {
  const icon = (name) => {
    const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
    const path = document.createElementNS(svg.namespaceURI, 'path');
    svg.setAttribute('viewBox', '0 0 24 24');
    svg.setAttribute('aria-hidden', 'true');
    path.setAttribute('d', ICONS[name]);
    svg.append(path);
    return svg;
  };
  byId('nav').replaceChildren(...VIEWS.map(([name, words]) =>
    h('a', { href: `#/${name}`, 'data-view': name }, icon(name), words)));
  byId('nav').hidden = false;
}

function tools() {
  const other = unitNow() === 'C' ? 'F' : 'C';
  const unit = h('button', { type: 'button', class: 'plain', 'data-f': 'unit',
    'aria-label': `°${unitNow()} / °${other}: temperatures in °${unitNow()}, change to °${other}`,
    onclick: () => {
      chooseUnit(other);
      frame();
      route();
    } }, h('b', {}, `°${unitNow()}`), ` / °${other}`);
  const button = (words, onclick) =>
    h('button', { type: 'button', class: 'plain', onclick }, words);
  if (about.viewer.shared) return [unit, button('Sign in', () => stranger(true))];
  return [unit, sessionKept() && button('Sign out', async () => {
    keepSession(false);
    await remove('/api/session').catch(() => {});
    location.reload();
  })];
}

function frame() {
  write(byId('station'), about.station);
  swap(byId('tools'), [unitNow(), about.viewer], tools);
  const at = seconds(timeNow()) || Date.now() / 1000;
  const zones = differs(about.timezone, at)
    ? `Times here are yours (${zone()}); plans and the station's own sentences use ${
      about.timezone}.` : '';
  byId('foot').replaceChildren(
    about.viewer.may_write ? '' : h('p', {}, 'You can read here, and change nothing.'),
    h('p', {}, [zones, `Noonpot ${about.version}.`].filter(Boolean).join(' ')));
}

/** What makes everything below it doubtful, loudly. */
function strip() {
  const since = link.since && ` Last heard at ${clockOf(link.since)}.`;
  const untrusted = about?.cookers.some(({ name }) =>
    topic(`${name}/now`)?.clock_trusted === false);
  const text = ended
    ? 'You are not signed in any more: nothing here is shown or told. Look at the food.'
    : link.online === false
      ? `${link.why || 'No connection to the station.'}${since} Look at the food: this is old.`
      : !link.alive ? `The watch is silent: nobody watches the food. Look at it.${since}`
        : untrusted
          ? 'The clock of the station is not set: its times are guesses. Temperatures hold.' : '';
  const place = byId('strip');
  place.hidden = !text;
  swap(place, text, () => [h('span', { 'aria-hidden': 'true' }, '▲ '), text,
    link.online === false && !ended
      && h('button', { type: 'button', onclick: connect }, 'Try now')]);
}

function title() {
  const ring = about.cookers.some(({ name }) => ringing(alarmsOf(name)).length)
    || ringing(alarmsOf('station')).length;
  const words = VIEWS.find(([name]) => name === shown)?.[1] ?? 'Noonpot';
  document.title = `${ring ? '▲ ' : ''}${words} · ${about.station} · Noonpot`;
}

async function route() {
  const [path, query] = (location.hash.slice(2) || 'now').split('?');
  const [name, ...rest] = path.split('/');
  const known = VIEWS.some(([view]) => view === name) ? name : 'now';
  const file = known === 'cooks' && rest[0] ? (rest[0] === 'compare' ? 'compare' : 'cook') : known;
  const moved = shown !== '';
  shown = known;
  document.querySelectorAll('#nav a').forEach((link_) => {
    if (link_.dataset.view === known) link_.setAttribute('aria-current', 'page');
    else link_.removeAttribute('aria-current');
  });
  title();
  const asked = location.hash;
  try {
    const view = await brought(file, known === 'now');
    if (asked !== location.hash) return;
    close();
    const place = byId('view');
    close = view.open(place, rest[0], new URLSearchParams(query)) ?? (() => {});
    if (moved) {
      place.focus({ preventScroll: true });
      scrollTo(0, 0);
    }
  } catch (error) {
    console.error(error);
    byId('view').replaceChildren(h('p', { class: 'error' },
      'This view could not be loaded. Is the station in reach? Then load the page again.'));
  }
}

let ready = false;
let strange = false; // the form stands that asks who is there
let ended = false; // who was watching is a stranger now, and may not have noticed

function hear(name, payload) {
  strip();
  if (!about) return;
  if (!ready && link.online) {
    ready = true;
    strange = false;
    ended = false;
    strip();
    useUnit(about.units);
    navigation();
    frame();
    route();
    addEventListener('hashchange', route);
  }
  if (ready) title();
  if (name === 'alert') {
    const spoken = h('p', {}, payload.text);
    byId('spoken').append(spoken);
    while (byId('spoken').childElementCount > 3) byId('spoken').firstChild.remove();
  }
}

/** Ask who is there: nobody is signed in, or a guest has `asked` for it. */
async function stranger(asked = false) {
  if (strange) return; // somebody may be typing
  ended ||= ready && !asked;
  end();
  ready = false;
  removeEventListener('hashchange', route);
  byId('nav').hidden = true;
  swap(byId('tools'), null, () => null);
  document.title = 'Not signed in · Noonpot';
  strip();
  close();
  close = () => {};
  const { open } = await brought('signin');
  strange = true;
  open(byId('view'));
}

document.querySelector('.skip').addEventListener('click', (event) => {
  event.preventDefault(); // its hash would be taken for a view
  byId('view').focus();
});
listen(hear);
begin(stranger);
