// Tables, fields and choices.

import { h } from './dom.js';

/** A card with a heading. */
export const section = (title, ...inside) =>
  h('section', { class: 'card' }, h('h2', {}, title), inside);

/** A table with a head; cells are texts or elements, the first of each row names it. */
export function table(caption, heads, rows) {
  return h('div', { class: 'wide', tabindex: 0, role: 'group', 'aria-label': caption },
    h('table', {},
      h('caption', { class: 'unseen' }, caption),
      h('thead', {}, h('tr', {}, heads.map((head) => h('th', { scope: 'col' }, head)))),
      h('tbody', {}, rows.map((row) => h('tr', { class: row.mark },
        row.map((cell, i) => h(i ? 'td' : 'th', { scope: i ? null : 'row' }, cell)))))));
}

/** A field with its label; `more` stands below it. */
export function field(label, input, more) {
  return h('label', { class: 'field' }, h('span', {}, label), input, more && h('small', {}, more));
}

/** A choice: pairs of value and words. */
export function choice(name, pairs, chosen) {
  const select = h('select', { name },
    pairs.map(([value, words]) => h('option', { value }, words)));
  select.value = chosen ?? pairs[0]?.[0] ?? '';
  return select;
}
