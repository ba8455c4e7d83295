// What is shown and yet not believed: probes with a fault.

import { get } from './api.js';
import { h } from './dom.js';
import { clockOf } from './time.js';

const roles = new Map(); // of probes by name, asked for with the first fault
let asked = false;

/** Whether a probe of a role is faulty: its last value is shown for a while. A faulty probe whose
 * role is not known yet may have any. */
export const doubted = (faults, role) =>
  Boolean(faults?.some(({ probe }) => (roles.get(probe) ?? role) === role));

/** Find out what the faulty probes measure; `then` is called if that has brought something. */
export async function learn(faults, then) {
  if (asked || !faults?.some(({ probe }) => !roles.has(probe))) return;
  asked = true;
  try {
    const { probes } = await get('/api/health');
    probes.forEach(({ name, role }) => roles.set(name, role));
    then();
  } catch { /* with the next news it is tried again */ }
  asked = false;
}

export function trouble(faults, blind) {
  const probes = faults.map(({ probe, fault, since }) => h('li', {}, `▲ Probe ${probe}: ${
    fault.replaceAll('-', ' ')} since ${clockOf(since)}. What it shows is not believed.`));
  if (blind) probes.push(h('li', {}, '▲ The core is not known: measure it by hand.'));
  return probes.length ? h('ul', { class: 'warn' }, probes) : null;
}
