// Links for others: they may look, and change nothing, until the link is withdrawn.

import { get, post, remove } from './api.js';
import { h } from './dom.js';
import { field, section } from './forms.js';
import { dateOf } from './time.js';

export function shares() {
  const list = h('ul', { class: 'shares' });
  const fresh = h('div', { role: 'status' });
  const error = h('p', { class: 'error', role: 'alert' });
  const name = h('input', {
    name: 'name', maxlength: 40, autocomplete: 'off', placeholder: 'for whom' });
  const trying = (act) => async (event) => {
    event?.preventDefault();
    error.textContent = '';
    try {
      await act();
    } catch (refusal) {
      error.textContent = refusal.message;
    }
  };
  const load = trying(async () => {
    const { shares: all } = await get('/api/shares');
    list.replaceChildren(...all.map((share) => h('li', {},
      h('span', {}, `${share.name || 'no name'}, since ${dateOf(share.since)}`),
      h('button', { type: 'button', 'aria-label': `Withdraw the link of ${share.name || 'no name'}`,
        onclick: trying(async () => {
          await remove(`/api/shares/${share.id}`);
          await load();
        }) }, 'Withdraw'))));
  });
  const make = trying(async () => {
    const share = await post('/api/shares', { name: name.value.trim() });
    name.value = '';
    const address = new URL(share.path, location.href).href;
    const shown = h('input', { readonly: true, value: address, 'aria-label': 'The link',
      onfocus: () => shown.select() });
    fresh.replaceChildren(h('p', {}, 'Copy it now, it is not shown again:'), shown);
    shown.focus();
    await load();
  });
  load();
  return section('Let others look',
    h('p', { class: 'quiet' }, 'A link lets somebody in your network look, and change nothing.'),
    list, h('form', { class: 'bar', onsubmit: make }, field('A link', name),
      h('button', {}, 'Make a link')), fresh, error);
}
