// The buttons below a cooker. What they ask is fetched with the first tap.

import { brought, h } from './dom.js';
import { said } from './said.js';

const WORDS = { start: 'Start…', load: 'Put in…', aim: 'Turned…', mark: 'Mark…',
  spot: 'Thermometer…', unload: 'Take out…', stop: 'Stop…' };
const RESTING = ['start', 'aim'];
const HEATING = ['load', 'aim', 'mark', 'stop'];
const COOKING = ['unload', 'aim', 'spot', 'mark', 'stop'];

async function open(act, cooker, now) {
  try {
    const { ACTS } = await brought('acts');
    ACTS[act](cooker, now ?? {});
  } catch {
    said('This needs the station, and it does not answer. Try again when it does.');
  }
}

/** The buttons that fit to what `look()` shows. The first stands out when `due`. */
export function buttons(cooker, look, due) {
  const cook = look()?.cook;
  const acts = !cook ? RESTING : cook.loaded_at ? COOKING : HEATING;
  return acts.map((act, i) => h('button', { type: 'button', 'data-f': act,
    class: i === 0 && due ? 'main' : null,
    onclick: () => open(act, cooker, look()) }, WORDS[act]));
}
