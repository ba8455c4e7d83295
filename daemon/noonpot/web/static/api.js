// What the station is asked, and told. Every error is a sentence for a person.

const SENDING_MS = 35_000; // a plan may take half a minute
let token = '';

/** The station as it last described itself, see /api/station. */
export let about = null;

/** An answer that is none: `status` is that of HTTP, 0 when there was no answer at all. */
export class Refusal extends Error {
  constructor(status, text) {
    super(/[.!?]$/.test(text) ? text : `${text}.`);
    this.status = status;
  }
}

async function ask(method, path, body, wait = SENDING_MS, again = false) {
  const sent = { method, headers: { Accept: 'application/json' }, cache: 'no-store' };
  sent.signal = AbortSignal.timeout(wait);
  if (method !== 'GET') {
    sent.headers['X-Noonpot-Token'] = token;
    sent.headers['Content-Type'] = 'application/json';
    sent.body = JSON.stringify(body ?? {});
  }
  let answer;
  try {
    answer = await fetch(path, sent);
  } catch {
    throw new Refusal(0, 'The station does not answer. Is it on, and are you in its network?');
  }
  const said = await answer.json().catch(() => null);
  if (answer.ok) return said ?? {};
  if (answer.status === 403 && method !== 'GET' && !again) {
    const before = token; // a server that has started anew has another
    await station();
    if (token !== before) return ask(method, path, body, wait, true);
  }
  throw new Refusal(answer.status,
    said?.error ?? `The station answered ${answer.status}; try again.`);
}

export const get = (path, wait = 10_000) => ask('GET', path, null, wait);
export const post = (path, body) => ask('POST', path, body);
export const remove = (path, body) => ask('DELETE', path, body);

/** Let the station describe itself; that also brings the token that changes need. */
export async function station() {
  about = await get('/api/station');
  token = about.token ?? '';
  return about;
}

/** A new name for an act. `crypto.randomUUID` is there over https alone, this is everywhere. */
export function newId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) =>
    byte.toString(16).padStart(2, '0')).join('');
}
