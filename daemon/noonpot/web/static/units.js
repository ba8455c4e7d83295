// Temperatures for people; everything else in the page is °C. Numbers round as people read them.

import { keep, kept } from './kept.js';

const KEY = 'noonpot.units';
let unit = 'C';

/** What the person chose before, else what the household reads. */
export function useUnit(households) {
  const chosen = kept(KEY);
  unit = chosen === 'C' || chosen === 'F' ? chosen : households;
}

export function chooseUnit(chosen) {
  unit = chosen;
  keep(KEY, chosen);
}

export const unitNow = () => unit;
export const inUnit = (c) => (unit === 'F' ? c * 1.8 + 32 : c);
export const fromUnit = (value) => (unit === 'F' ? (value - 32) / 1.8 : value);
export const known = (value) => value !== null && value !== undefined && Number.isFinite(value);

/** "71 °C", or a dash for what is not known. */
export const degrees = (c) => (known(c) ? `${Math.round(inUnit(c))} °${unit}` : '–');

export const bare = (c) => (known(c) ? `${Math.round(inUnit(c))}` : '–');

/** The value of a field in °C: a number to one decimal, as a person would write it. */
export const forField = (c) => (known(c) ? `${Math.round(inUnit(c) * 10) / 10}` : '');

/** "93 %"; never 0 % or 100 %: no forecast is so sure. */
export function percent(p) {
  if (!known(p)) return '–';
  if (p < 0.005) return 'below 1 %';
  if (p >= 0.995) return 'above 99 %';
  return `${Math.round(p * 100)} %`;
}

export const kilograms = (kg) => (known(kg) ? `${Math.round(kg * 1000) / 1000} kg` : '');

/** A bearing of 0 to 359 degrees. */
export const bearing = (deg) => `${((Math.round(deg) % 360) + 360) % 360}°`;

/** By how much to go round from one bearing to another, -180 to 180, to the right is more. */
export const turnBetween = (from, to) => ((((to - from) % 360) + 540) % 360) - 180;
