// Elements, made without ever reading text as markup: what comes from outside stays text.

const SVG = 'http://www.w3.org/2000/svg';

function fill(element, facts, children) {
  for (const [key, value] of Object.entries(facts ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value);
    else if (key === 'value' || key === 'checked') element[key] = value;
    else element.setAttribute(key, value === true ? '' : value);
  }
  element.append(...children.flat(Infinity).filter((child) => child ?? false));
  return element;
}

/** An element: `h('p', { class: 'quiet' }, 'text', child)`; null and false are no children. */
export const h = (tag, facts, ...children) => fill(document.createElement(tag), facts, children);

/** The same for a drawing. */
export const s = (tag, facts, ...children) =>
  fill(document.createElementNS(SVG, tag), facts, children);

export const byId = (id) => document.getElementById(id);

/** Put `make()` into `place`, but only when `key` is new: what a person holds or reads stays.
 * The focus goes to the element with the same `data-f` as before. */
export function swap(place, key, make) {
  const text = JSON.stringify(key);
  if (place.swapped === text) return;
  place.swapped = text;
  const held = place.contains(document.activeElement) && document.activeElement.dataset.f;
  place.replaceChildren(...[make()].flat(Infinity).filter((child) => child ?? false));
  if (held) place.querySelector(`[data-f="${CSS.escape(held)}"]`)?.focus();
}

/** Write a text into an element, if it is another. */
export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

const COMES_MS = 8000;
const sheets = new Map();
const after = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/** A stylesheet that is only sometimes needed. Without it things are plain, but there. */
export function styled(href = '/static/views.css') {
  if (!sheets.has(href)) {
    sheets.set(href, new Promise((resolve) => {
      const onerror = () => resolve(sheets.delete(href));
      document.head.append(h('link', { rel: 'stylesheet', href, onload: resolve, onerror }));
    }));
  }
  return Promise.race([sheets.get(href), after(COMES_MS)]);
}

/** A module that is only sometimes needed. One that does not come is asked for by other names:
 * a browser may remember that a name failed. */
export async function brought(file, plain) {
  for (const name of ['', '?2', '?3']) {
    const comes = import(`./${file}.js${name}`);
    const late = after(COMES_MS).then(() => { throw new Error(`no ${file}`); });
    try {
      return (await Promise.race([late, Promise.all([comes, plain || styled()])]))[0];
    } catch (error) {
      if (name === '?3') throw error;
    }
  }
}
