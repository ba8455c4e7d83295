// Times as the clocks of another place show them.

import { clock, clockOf, dayOf, seconds, zone } from './time.js';

const TIME = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' };
const DAY = { weekday: 'short', day: 'numeric', month: 'short' };

/** What tells times of a zone: `clock` those in seconds, `clockOf` and `dayOf` those in UTC as
 * text. `zone` is the one it came to be, since not every browser knows all. */
export function timesIn(timeZone) {
  try {
    const [time, day] = [TIME, DAY].map((options) =>
      new Intl.DateTimeFormat('en-GB', { ...options, timeZone }));
    const told = (format) => (iso) => (iso ? format.format(seconds(iso) * 1000) : '–');
    return { zone: timeZone, clock: (s) => time.format(s * 1000), clockOf: told(time),
      dayOf: told(day) };
  } catch {
    return { zone: zone(), clock, clockOf, dayOf };
  }
}
