// Who may look: the passphrase, and the first one with the code that the station has printed.

import { about, post, station } from './api.js';
import { h } from './dom.js';
import { field } from './forms.js';
import { keepSession } from './kept.js';

const LONGEST = 200;

const secret = (name, complete) => h('input', {
  name, type: 'password', autocomplete: complete, required: true, maxlength: LONGEST });

function form(words, fields, confirm, send) {
  const error = h('p', { class: 'error', role: 'alert' });
  const button = h('button', { class: 'main' }, confirm);
  return h('form', { class: 'sheet', onsubmit: async (event) => {
    event.preventDefault();
    button.disabled = true;
    error.textContent = '';
    try {
      await send();
      keepSession(true);
      location.reload();
    } catch (refusal) {
      error.textContent = refusal.message;
      button.disabled = false;
    }
  } }, h('p', {}, words), fields, error, h('p', { class: 'row' }, button));
}

function signIn() {
  const passphrase = secret('passphrase', 'current-password');
  return form('This station shows its cookers to who knows its passphrase.',
    [field('Passphrase', passphrase)], 'Sign in',
    () => post('/api/session', { passphrase: passphrase.value }));
}

function first() {
  const code = h('input', { name: 'code', autocomplete: 'one-time-code', required: true });
  const passphrase = secret('passphrase', 'new-password');
  return form('The station has no passphrase yet. Noonpot has written a code into its log, or onto '
    + 'the terminal it was started from. Four words that belong to nothing make a good passphrase.',
  [field('Code', code), field('New passphrase', passphrase)], 'Keep it',
  () => post('/api/passphrase', { code: code.value.trim(), passphrase: passphrase.value }));
}

export async function open(place) {
  await station().catch(() => null); // it brings the token, if it answers strangers at all
  const begins = Boolean(about?.viewer?.first_run);
  const body = begins ? first() : signIn();
  place.replaceChildren(h('h1', {}, begins ? 'Welcome' : 'Sign in'), body);
  body.querySelector('input').focus();
}
