// The sun dial: where the sun stands, where the cooker points, and how far to turn it.

import { h, s } from './dom.js';
import { bearing, known, turnBetween } from './units.js';

const ENOUGH_DEG = 3; // nobody aims by hand any better
const COMPASS = ['N', 'E', 'S', 'W'];

const spot = (azimuth, radius) => {
  const angle = (azimuth * Math.PI) / 180;
  return [Math.sin(angle) * radius, -Math.cos(angle) * radius];
};

function arc(from, by, radius) {
  const [x1, y1] = spot(from, radius);
  const [x2, y2] = spot(from + by, radius);
  return `M${x1} ${y1}A${radius} ${radius} 0 0 ${by > 0 ? 1 : 0} ${x2} ${y2}`;
}

function drawn(sun, aim) {
  const [sx, sy] = sun ? spot(sun.azimuth_deg, 39) : [0, 0];
  const [ax, ay] = aim ? spot(aim.azimuth_deg, 30) : [0, 0];
  const by = sun && aim ? turnBetween(aim.azimuth_deg, sun.azimuth_deg) : 0;
  return s('svg', { class: 'dial', viewBox: '-60 -60 120 120', 'aria-hidden': 'true' },
    s('circle', { class: 'ring', r: 48 }),
    COMPASS.map((letter, i) => {
      const [x, y] = spot(i * 90, 54);
      return s('text', { x, y }, letter);
    }),
    Math.abs(by) >= ENOUGH_DEG && s('path', { class: 'way', d: arc(aim.azimuth_deg, by, 30) }),
    aim && s('path', { class: 'aim', d: `M0 0L${ax} ${ay}` }),
    aim && s('path', { class: 'tip', d: 'M-5 2L0 -8L5 2Z',
      transform: `translate(${ax} ${ay}) rotate(${aim.azimuth_deg})` }),
    s('circle', { class: 'hub', r: 4 }),
    sun?.up && s('circle', { class: 'sun', cx: sx, cy: sy, r: 6 }));
}

function way(sun, aim) {
  const turn = turnBetween(aim.azimuth_deg, sun.azimuth_deg);
  const tilt = sun.elevation_deg - aim.elevation_deg;
  const parts = [];
  if (Math.abs(turn) >= ENOUGH_DEG) {
    parts.push(`${Math.round(Math.abs(turn))}° to the ${turn > 0 ? 'right' : 'left'}`);
  }
  if (Math.abs(tilt) >= ENOUGH_DEG) {
    parts.push(`${Math.round(Math.abs(tilt))}° ${tilt > 0 ? 'up' : 'down'}`);
  }
  return parts.length ? parts.join(', ') : 'on the sun';
}

/** The dial and its words; `declination` is how much too little a compass shows, if known. */
export function dial({ sun, aim }, declination) {
  if (!sun) return h('p', { class: 'quiet' }, 'No sun: the clock of the station is not set.');
  const rows = [];
  const row = (name, words) => rows.push(h('dt', {}, name), h('dd', {}, words));
  if (!sun.up) row('Sun', 'below the horizon');
  else {
    row('Sun', `${bearing(sun.azimuth_deg)}, ${Math.round(sun.elevation_deg)}° high`);
    if (known(declination)) row('Compass', bearing(sun.azimuth_deg - declination));
    row('Cooker', aim ? `${bearing(aim.azimuth_deg)}, tilt ${Math.round(aim.elevation_deg)}°`
      : 'not told yet');
    if (aim) row('To the sun', way(sun, aim));
    const shadow = 1 / Math.tan((sun.elevation_deg * Math.PI) / 180);
    row('Peg of 1 m', `casts ${shadow < 10 ? `${shadow.toFixed(2)} m` : 'over 10 m'} to ${
      bearing(sun.azimuth_deg + 180)}`);
  }
  return h('div', { class: 'sundial' }, drawn(sun, aim), h('dl', { class: 'facts' }, rows));
}
