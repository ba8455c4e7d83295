// What the forecast of a cooker says, in words.

import { timeNow } from './live.js';
import { clock, clockOf, seconds, span } from './time.js';
import { known, percent } from './units.js';

const LEAST_HOLD_S = 60; // a shorter hold is none to a person

/** The light of the sky in words; the borders lie between the kinds of sky that a plan knows. */
export function skyWords(index) {
  if (!known(index)) return '';
  const kind = index >= 0.9 ? 'clear' : index >= 0.7 ? 'thin cloud'
    : index >= 0.425 ? 'broken cloud' : 'overcast';
  return `${kind}, ${Math.min(100, Math.round(index * 100))} % of a clear sky's light`;
}

export const fits = (forecast, cook) =>
  Boolean(forecast && cook?.loaded_at && forecast.time >= cook.loaded_at);

const reached = (forecast) => forecast.p_done === 1 && forecast.done_p10 === forecast.done_p90;

/** For how long a core must keep its target to be done [s], 0 when to touch it is enough. */
export const holdOf = (cook) => (cook?.hold_s >= LEAST_HOLD_S ? cook.hold_s : 0);

/** Chance and time, in one line. The times of a forecast are those at which the core comes to its
 * target; what must keep it is not done before it has. */
export function chance(forecast, cook, done) {
  const hold = holdOf(cook);
  const held = (iso) => clock(seconds(iso) + hold);
  const { done_p10: early, done_p50: middle, done_p90: late } = forecast;
  if (reached(forecast)) {
    const until = seconds(middle) + hold > seconds(timeNow()) ? `until ${held(middle)}`
      : `for ${span(hold)}`;
    return `Its target was reached at ${clockOf(middle)}${
      hold && !done ? `; it must hold it ${until}` : ''}.`;
  }
  const odds = `Chance ${percent(forecast.p_done)}`;
  if (!middle) return `${odds}: not today, as it looks.`;
  return `${odds}; if so ${hold ? `target about ${clockOf(middle)}, then ${
    span(hold)} of heat: done about ${held(middle)}` : `about ${clockOf(middle)}`}, between ${
    held(early)} and ${held(late)} eight times in ten.`;
}

/** By when food that goes poorly must be moved, "" when there is nothing to say. */
export function lastMoment(forecast) {
  if (!forecast?.rescue_at) return '';
  const meal = forecast.rescue_because === 'meal';
  const at = clockOf(forecast.rescue_at);
  if (seconds(forecast.rescue_at) <= seconds(timeNow())) {
    return `The last moment to move it to another heat${meal ? ' for the meal' : ''} was ${at}.`;
  }
  return `If it goes poorly, move it to another heat by ${at} ${
    meal ? 'to be in time for the meal.' : 'or discard it.'}`;
}
