// A sheet that asks: some fields, what to mind, and one button that does it.

import { newId, Refusal } from './api.js';
import { h } from './dom.js';

/** A wrong entry, in words for who made it. */
class Slip extends Error {}

/** Open a sheet. `send(id)` does it and may throw a sentence; the sheet stays until it worked.
 * The id stays the same while no answer came, so that a second try does not do it twice. */
export function ask({ title, fields = [], caution, confirm, send, danger }) {
  let id = newId();
  const error = h('p', { class: 'error', role: 'alert' });
  const button = h('button', { class: danger ? 'main danger' : 'main' }, confirm);
  const form = h('form', { method: 'dialog', novalidate: true, onsubmit: async (event) => {
    event.preventDefault();
    button.disabled = true;
    error.textContent = '';
    try {
      await send(id);
      sheet.close();
    } catch (refusal) {
      if (!(refusal instanceof Refusal || refusal instanceof Slip)) console.error(refusal);
      if (refusal.status !== 0) id = newId();
      error.textContent = refusal.message;
    }
    button.disabled = false;
  } },
  h('h2', { id: 'ask' }, title), fields, caution && h('p', { class: 'caution' }, caution), error,
  h('p', { class: 'row' }, button,
    h('button', { type: 'button', onclick: () => sheet.close() }, 'Not now')));
  const sheet = h('dialog', { class: 'sheet', 'aria-labelledby': 'ask' }, form);
  const before = document.activeElement;
  sheet.addEventListener('close', () => {
    sheet.remove();
    if (before?.isConnected) before.focus();
  });
  sheet.addEventListener('click', (event) => event.target === sheet && sheet.close());
  document.body.append(sheet);
  sheet.showModal();
  if (!fields.length) button.focus();
  return sheet;
}

/** A field for a number; a comma will do. */
export const numeric = (name, value = '', hint = '') => h('input', {
  name, value, inputmode: 'decimal', autocomplete: 'off', placeholder: hint });

/** What stands in a field, undefined when it is empty. */
export function numberIn(input, what, low = -Infinity, high = Infinity) {
  const text = input.value.trim().replace(',', '.').replace('−', '-');
  if (!text) return undefined;
  const number = Number(text);
  if (!Number.isFinite(number) || number < low || number > high) {
    const range = high < Infinity ? ` from ${low} to ${high}` : '';
    throw new Slip(`${what} must be a number${range}; “${input.value.trim()}” is not.`);
  }
  return number;
}

/** The same, for what cannot be left out. */
export function needed(value, what) {
  if (value === undefined || value === '') throw new Slip(`${what} is missing.`);
  return value;
}
