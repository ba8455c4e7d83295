// Times in the zone of whoever looks, always with 24 hours. "Now" is what the station said last.

const of = (options) => new Intl.DateTimeFormat('en-GB', options);
const CLOCK = of({ hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
const DAY = of({ weekday: 'short', day: 'numeric', month: 'short' });
const DATE = of({ day: 'numeric', month: 'long', year: 'numeric' });

export const seconds = (iso) => Date.parse(iso) / 1000;
export const isoOf = (s) => new Date(s * 1000).toISOString().replace(/\.\d+Z$/, 'Z');
export const clock = (s) => CLOCK.format(s * 1000);
export const clockOf = (iso) => (iso ? clock(seconds(iso)) : '–');
export const dayOf = (iso) => (iso ? DAY.format(seconds(iso) * 1000) : '–');
export const dateOf = (iso) => (iso ? DATE.format(seconds(iso) * 1000) : '–');
export const zone = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

/** The time of day, with its day when that is another than the day of `now`. */
export function when(iso, now) {
  if (!iso) return '–';
  return now && dayOf(iso) !== dayOf(now) ? `${dayOf(iso)} ${clockOf(iso)}` : clockOf(iso);
}

/** "1 h 20 min", "12 min", "40 s". */
export function span(s) {
  const whole = Math.abs(s);
  if (whole < 60) return `${Math.round(whole)} s`;
  const minutes = Math.round(whole / 60);
  if (minutes < 60) return `${minutes} min`;
  const rest = minutes % 60;
  return `${Math.floor(minutes / 60)} h${rest ? ` ${rest} min` : ''}`;
}

/** The next moment, after `now`, at which a clock here shows "18:00". */
export function nextAt(text, now) {
  const [hour, minute] = text.split(':').map(Number);
  const day = new Date(now * 1000);
  day.setHours(hour, minute, 0, 0);
  if (day.getTime() <= now * 1000) day.setDate(day.getDate() + 1);
  return isoOf(day.getTime() / 1000);
}

/** How far the clock of a zone is ahead of UTC at a moment, in minutes. */
function offset(zoneName, s) {
  const parts = Object.fromEntries(of({ timeZone: zoneName, hourCycle: 'h23', year: 'numeric',
    month: 'numeric', day: 'numeric', hour: 'numeric', minute: 'numeric' })
    .formatToParts(s * 1000).map((part) => [part.type, Number(part.value)]));
  const shown = Date.UTC(parts.year, parts.month - 1, parts.day, parts.hour, parts.minute);
  return Math.round((shown / 1000 - s) / 60);
}

/** Whether the clocks of both zones differ now. A zone that the browser does not know, does. */
export function differs(zoneName, s) {
  try {
    return Math.abs(offset(zoneName, s) - offset(zone(), s)) > 1;
  } catch {
    return true;
  }
}

/** The values of a curve from a time on: before the load a probe shows the pot, not the food. */
export const from = ({ time, values }, begin) =>
  values.map((value, i) => (time[i] < begin ? null : value));
