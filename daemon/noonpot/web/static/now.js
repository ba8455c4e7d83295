// The first view: a card for each cooker, and what the station itself has to say.

import { about } from './api.js';
import { alarmList } from './alarms.js';
import { ALONE } from './cautions.js';
import { Cooker } from './cooker.js';
import { h, swap } from './dom.js';
import { alarmsOf, listen } from './live.js';

export function open(place) {
  const cards = about.cookers.map(({ name }) => new Cooker(name));
  const station = h('div', { class: 'alarms-of-station' });
  const look = (name) => {
    if (name === undefined || name === 'link') cards.forEach((card) => card.update(name));
    else cards.find((card) => name.startsWith(`${card.name}/`))?.update(name);
    const alarms = alarmsOf('station');
    swap(station, [alarms, about.viewer.may_write], () => alarmList(alarms));
  };
  place.replaceChildren(h('h1', { class: 'unseen' }, 'Now'), station,
    h('div', { class: 'cards' }, cards.map((card) => card.element)),
    h('p', { class: 'quiet below' }, ALONE));
  look();
  const ending = listen(look);
  return () => {
    ending();
    cards.forEach((card) => card.close());
  };
}
