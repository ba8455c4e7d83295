// What the station last said, and how sure we are that it still speaks.

import { get, station } from './api.js';

const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 30_000;
const SILENCE_MS = 45_000; // a living station says something at least each quarter of a minute
const LOOK_MS = 5000;

const topics = new Map();
const hearers = new Set();
let source = null;
let waiting = null;
let waitMs = FIRST_WAIT_MS;
let heardMs = 0;
let newest = '';
let onStranger = () => {};

/** `online`: the page hears the server, if not `why`; `alive`: the server hears the watch. */
export const link = { online: null, alive: true, since: '', why: '' };

export const topic = (name) => topics.get(name);
export const timeNow = () => newest;
export const alarmsOf = (cooker) => [...topics.entries()]
  .filter(([name]) => name.startsWith(`${cooker}/alarm/`)).map(([, payload]) => payload);

/** Be told of every change: `hear(topic, payload)`, or `hear('link')`, `hear('alert', payload)`.
 * Returns what ends it. */
export function listen(hear) {
  hearers.add(hear);
  return () => hearers.delete(hear);
}

const tell = (...what) => hearers.forEach((hear) => hear(...what));

function take(name, payload) {
  topics.set(name, payload);
  if (typeof payload?.time === 'string' && payload.time > newest) newest = payload.time;
  tell(name, payload);
}

function setLink(change) {
  const before = JSON.stringify(link);
  Object.assign(link, change);
  if (!link.online || !link.alive) link.since ||= newest;
  else link.since = '';
  if (JSON.stringify(link) !== before) tell('link');
}

function heard() {
  heardMs = Date.now();
  setLink({ online: true, why: '' });
}

function lost(why) {
  source?.close();
  source = null;
  setLink({ online: false, why });
  clearTimeout(waiting);
  waiting = setTimeout(connect, waitMs);
  waitMs = Math.min(waitMs * 2, LONGEST_WAIT_MS);
}

/** Connect, or do it again at once, on a new line. Who must sign in goes to `onStranger`. */
export async function connect() {
  clearTimeout(waiting);
  source?.close();
  source = null;
  try {
    // after a restart of the server the token is another, and who was signed in may be a stranger
    if ((await station()).viewer.needs_passphrase) {
      onStranger();
      return;
    }
    const { topics: all } = await get('/api/now');
    Object.entries(all).forEach(([name, payload]) => take(name, payload));
  } catch (refusal) {
    if (refusal.status === 401) onStranger();
    else lost(refusal.status ? refusal.message : '');
    return;
  }
  heard();
  source?.close();
  const mine = new EventSource('/api/live');
  source = mine;
  const on = (event, act) => mine.addEventListener(event, (message) => {
    if (mine !== source) return;
    waitMs = FIRST_WAIT_MS;
    heard();
    if (message.data) act(JSON.parse(message.data));
  });
  on('open', () => {});
  on('shown', (said) => take(said.topic, said.payload));
  on('alert', (said) => tell('alert', said));
  on('feed', (said) => setLink({ alive: said.alive }));
  mine.onerror = () => mine === source && lost('');
}

/** Listen from now on, and notice when nothing comes though the line seems open. */
export function begin(strangers) {
  onStranger = strangers;
  connect();
  const silent = () => Date.now() - heardMs > SILENCE_MS;
  const soon = () => document.visibilityState === 'visible' && (!source || silent()) && connect();
  addEventListener('online', soon);
  addEventListener('offline', () => lost(''));
  document.addEventListener('visibilitychange', soon);
  setInterval(() => source && silent() && connect(), LOOK_MS);
}

export function end() {
  clearTimeout(waiting);
  source?.close();
  source = null;
  topics.clear();
}
