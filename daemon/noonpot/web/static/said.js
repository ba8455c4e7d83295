// What was just done, at the foot of the page for a minute, with the way back.

import { newId, post } from './api.js';
import { byId, h } from './dom.js';

const SHOWN_MS = 60_000;
const BACK = new Set(['start', 'aim', 'load', 'unload', 'mark', 'stop']);
let ending = null;

function show(text, button) {
  clearTimeout(ending);
  const place = byId('said');
  place.replaceChildren(h('p', {}, text), ...(button ? [button] : []),
    h('button', { type: 'button', class: 'plain', 'aria-label': 'Hide this', onclick: hide }, '×'));
  place.classList.add('shown');
  ending = setTimeout(hide, SHOWN_MS);
}

function hide() {
  byId('said').classList.remove('shown');
  byId('said').replaceChildren();
}

/** Say what came of an act, and offer to take its letter back. */
export function said(text, letter) {
  if (!letter) {
    show(text);
    return;
  }
  const undo = h('button', { type: 'button', onclick: async () => {
    undo.disabled = true;
    try {
      const answer = await post('/api/undo', { id: newId(), letter });
      show(answer.text ?? 'Taken back.');
    } catch (refusal) {
      show(refusal.message);
    }
  } }, 'Undo');
  show(text, undo);
}

/** Tell the station that something was done. Throws what speaks against it, in words. */
export async function tell(cooker, verb, body, id) {
  const answer = await post(`/api/cookers/${encodeURIComponent(cooker)}/${verb}`, { id, ...body });
  said(answer.text, BACK.has(verb) ? answer.letter : null);
}
