// All stations, live. What comes from outside is set as text, never read as markup.

const SILENCE_MS = 45_000; // the server says something at least each quarter of a minute
const RETRY_MS = 3000;
const LOUD = 60; // from this rank on somebody should go and look
const LOOKS = 20;

const $ = (id) => document.getElementById(id);
const clock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
const day = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short' });

const shown = new Map(); // by key: what was told of a line, and its element
let order = [];
let about = {};
let heardMs = Date.now();
let cut = false;
let source = null;

function h(tag, kind, ...children) {
  const element = document.createElement(tag);
  if (kind) element.className = kind;
  element.append(...children.filter((child) => child !== null));
  return element;
}

const now = () => Date.parse(about.time);
const known = (value) => value !== null && value !== undefined;
const degrees = (c) => (known(c) ? `${Math.round(about.unit === 'F' ? c * 1.8 + 32 : c)} °${about.unit}` : '–');

function when(iso) {
  if (!iso) return '–';
  const ms = Date.parse(iso);
  return Math.abs(ms - now()) < 12 * 3_600_000 ? clock.format(ms) : `${day.format(ms)} ${clock.format(ms)}`;
}

function span(ms) {
  const minutes = Math.round(ms / 60_000);
  if (minutes < 0) return 'of a time to come';
  if (minutes < 1) return 'less than a minute old';
  if (minutes < 90) return `${minutes} min old`;
  const hours = Math.round(minutes / 60);
  return hours < 36 ? `${hours} h old` : `${Math.round(hours / 24)} days old`;
}

// nothing is certain that is yet to come
const chance = (p) => (known(p) ? `${Math.round(Math.min(Math.max(100 * p, 1), 99))} %` : '–');

function cooks(cook) {
  if (!cook) return '';
  const food = cook.food ?? 'food';
  if (cook.emptied) return `${food}, taken out`;
  if (!cook.loaded_at) return `${food}, not in yet`;
  return known(cook.mass_kg) ? `${food}, ${cook.mass_kg} kg` : food;
}

const value = (name, text) => h('div', '', h('dt', '', name), h('dd', '', text));

function waits(line) {
  const alarms = line.alarms.map((one) => h('p', 'alarm',
    h('b', '', one.alarm), `${one.priority}, since ${when(one.since)}. `, one.text));
  const rest = line.problems.map((text) => h('p', 'trouble', text));
  if (line.answered) rest.push(h('p', 'answered', `${line.answered} answered`));
  return h('div', 'waits', ...alarms, ...rest);
}

function state(line, live) {
  const parts = [line.state === 'online' && !live ? 'was online' : line.state];
  if (line.since) parts.push(`since ${when(line.since)}`);
  const text = parts.join(' ');
  return live || !line.as_of ? text : `${text}; numbers ${span(now() - Date.parse(line.as_of))}`;
}

function paint(line) {
  const live = line.live && !cut;
  const told = [line.pot_c, line.core_c, line.p_done].some(known);
  const kind = ['line', live ? '' : 'old', told ? '' : 'bare', line.rank >= LOUD ? 'loud' : line.rank >= LOOKS ? 'looks' : ''];
  const stage = h('p', line.state === 'online' ? 'state' : 'state dark', state(line, live));
  return h('li', kind.filter(Boolean).join(' '),
    h('div', 'who', h('h2', '', line.cooker ? `${line.station} / ${line.cooker}` : line.station), stage),
    h('p', 'cooks', line.cooker ? cooks(line.cook) : 'the station itself'),
    h('dl', 'values', value('pot', degrees(line.pot_c)), value('core', degrees(line.core_c)),
      value('chance', chance(line.p_done)), value('done about', when(line.done_p50))),
    waits(line));
}

/** Draw anew what has changed, or everything when it is another time for all of it. */
function draw(all) {
  const list = $('lines');
  const places = new Set(order);
  for (const key of [...shown.keys()].filter((one) => !places.has(one))) {
    shown.get(key).element?.remove();
    shown.delete(key);
  }
  let before = null;
  for (const key of order) {
    const one = shown.get(key);
    if (!one) continue;
    if (all || !one.element || !one.drawn) {
      const fresh = paint(one.line);
      one.element?.replaceWith(fresh);
      Object.assign(one, { element: fresh, drawn: true });
    }
    const place = before ? before.nextSibling : list.firstChild;
    if (place !== one.element) list.insertBefore(one.element, place);
    before = one.element;
  }
  const lost = cut ? `This page hears nothing since ${clock.format(heardMs)}; all of it is old.` : about.problem;
  $('strip').textContent = lost ?? '';
  $('strip').hidden = !lost;
  $('summary').textContent = about.summary ? `${about.summary}. At ${clock.format(now())}.` : '';
  $('nobody').hidden = order.length > 0;
  $('more').textContent = `${about.more} more lines want less; noonpot stations lists them all.`;
  $('more').hidden = !about.more;
  $('ignored').textContent = about.ignored ? `${about.ignored}.` : '';
}

function take(told) {
  heardMs = Date.now();
  const wasCut = cut;
  cut = false;
  const { lines, order: places, ...rest } = told;
  const older = Math.floor(Date.parse(rest.time) / 60_000) !== Math.floor(now() / 60_000);
  about = rest;
  order = places ?? order;
  for (const [key, line] of Object.entries(lines)) {
    shown.set(key, { line, element: shown.get(key)?.element, drawn: false });
  }
  draw(wasCut || older);
}

function lose() {
  if (cut) return;
  cut = true;
  draw(true);
}

function connect() {
  source?.close();
  source = new EventSource('/api/live');
  source.addEventListener('stations', (event) => take(JSON.parse(event.data)));
  source.onerror = () => {
    lose();
    source.close();
    setTimeout(connect, RETRY_MS);
  };
}

setInterval(() => {
  if (Date.now() - heardMs > SILENCE_MS) {
    lose();
    connect();
  }
}, 5000);
connect();
