// Alarms: a shape and words for each, and what a person can answer.

import { about, newId } from './api.js';
import { SAFETY } from './cautions.js';
import { h } from './dom.js';
import { said, tell } from './said.js';
import { clockOf } from './time.js';

const SHAPES = { urgent: '▲', high: '▲', medium: '◆', low: '●' };
const RANK = ['urgent', 'high', 'medium', 'low'];
const STATES = {
  unacknowledged: '',
  acknowledged: 'you know',
  'returned-unacknowledged': 'over, not answered',
  shelved: 'put off',
};
const LATER_MIN = 60;

/** Those that have something to say, the most pressing first. */
const speaking = (alarms) => alarms
  .filter(({ state, text }) => state in STATES && text)
  .sort((a, b) => (a.state === 'unacknowledged' ? 0 : 1) - (b.state === 'unacknowledged' ? 0 : 1)
    || RANK.indexOf(a.priority) - RANK.indexOf(b.priority));

export const ringing = (alarms) => alarms.filter(({ state }) => state === 'unacknowledged');

async function answer(button, alarm, verb, more) {
  button.disabled = true;
  try {
    await tell(alarm.cooker, verb, { alarm: alarm.alarm, ...more }, newId());
  } catch (refusal) {
    said(refusal.message);
  }
  button.disabled = false;
}

function answerButton(alarm, words, verb, more) {
  const made = h('button', { type: 'button', 'data-f': `${alarm.alarm}-${verb}`,
    'aria-label': `${words}: ${alarm.alarm}`,
    onclick: () => answer(made, alarm, verb, more) }, words);
  return made;
}

/** The sentence without the name of its cooker, which stands above it. */
export const sentence = ({ cooker, text }) => {
  if (cooker === 'station') return text.replace(/^station [a-z0-9-]+: /, '');
  const bare = text.replace(`${cooker}: `, '');
  return bare.charAt(0).toUpperCase() + bare.slice(1);
};

/** A list of alarms, null when all is quiet; what the one `above` says stands there already. */
export function alarmList(alarms, above = null) {
  const shown = speaking(alarms);
  if (!shown.length) return null;
  return h('ul', { class: 'alarms' }, shown.map((alarm) => {
    const rings = alarm.state === 'unacknowledged';
    const answered = alarm.state === 'acknowledged' || alarm.state === 'shelved';
    const later = rings && (alarm.may_shelve ?? !SAFETY.has(alarm.alarm));
    return h('li', { class: `alarm ${alarm.priority} ${rings ? 'rings' : ''}` },
      h('p', { class: 'kind' }, h('span', { 'aria-hidden': 'true' }, SHAPES[alarm.priority] ?? '●'),
        [` ${alarm.priority}: ${alarm.alarm.replaceAll('-', ' ')}`, STATES[alarm.state],
          `since ${clockOf(alarm.since)}`].filter(Boolean).join(', ')),
      alarm.alarm !== above && h('p', {}, sentence(alarm)),
      about.viewer.may_write && !answered && h('p', { class: 'row' },
        answerButton(alarm, 'I know', 'acknowledge'),
        later && answerButton(alarm, 'Later', 'shelve', { minutes: LATER_MIN })));
  }));
}
