// How a cook was: stars, crumb, crust, and words.

import { about } from './api.js';
import { ask } from './ask.js';
import { named, stars } from './cooks.js';
import { h } from './dom.js';
import { choice, field, section } from './forms.js';
import { tell } from './said.js';

const words = (...all) => [['', 'not said'], ...all.map((word) => [word, word])];
const CRUMBS = words('raw', 'moist', 'right', 'dry');
const CRUSTS = words('pale', 'golden', 'brown', 'burnt');

/** What the household said of it, and the sheet to say it; `again` shows the cook anew. */
export function verdict(cook, again) {
  const given = cook.verdict;
  const line = given ? [stars(given.rating), given.crumb && `crumb ${given.crumb}`,
    given.browning && `crust ${given.browning}`, given.text].filter(Boolean).join(' · ')
    : 'Nobody has said yet how it was.';
  return section('How it was', h('p', {}, line),
    about.viewer.may_write && h('button', { type: 'button', onclick: () => judge(cook, again) },
      given ? 'Change it…' : 'Say how it was…'));
}

function judge(cook, again) {
  const given = cook.verdict ?? {};
  const rating = choice('rating', [['', 'not said'], ['5', '★★★★★ as it should be'],
    ['4', '★★★★ good'], ['3', '★★★ all right'], ['2', '★★ poor'], ['1', '★ not to be eaten']],
  `${given.rating ?? ''}`);
  const crumb = choice('crumb', CRUMBS, given.crumb ?? '');
  const browning = choice('browning', CRUSTS, given.browning ?? '');
  const text = h('input', { name: 'text', maxlength: 200, value: given.text ?? '' });
  ask({ title: `How was it: ${named(cook)}`, confirm: 'Keep it',
    fields: [field('All in all', rating), field('Crumb, or inside', crumb),
      field('Crust', browning), field('In my words', text)],
    send: async (id) => {
      await tell(cook.cooker, 'verdict', { cook: cook.id,
        ...(rating.value ? { rating: Number(rating.value) } : {}),
        ...(crumb.value ? { crumb: crumb.value } : {}),
        ...(browning.value ? { browning: browning.value } : {}),
        ...(text.value.trim() ? { text: text.value.trim() } : {}) }, id);
      again();
    } });
}
