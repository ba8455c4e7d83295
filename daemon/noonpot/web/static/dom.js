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

/** An element: `h('p', { class: 'quiet' }, 'text', child)`. Nothing in `children` is left out
 * but null, undefined and false. */
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

const sheets = new Map();

/** A stylesheet that is only sometimes needed; the promise waits until it holds or has failed. */
export function styled(href) {
  if (!sheets.has(href)) {
    sheets.set(href, new Promise((resolve) => {
      document.head.append(
        h('link', { rel: 'stylesheet', href, onload: resolve, onerror: resolve }));
    }));
  }
  return sheets.get(href);
}
