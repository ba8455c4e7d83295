// What the browser keeps from one visit to the next. One that keeps nothing will do as well.

const SIGNED_IN = 'noonpot.signed-in';

export function kept(key) {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

export function keep(key, value) {
  try {
    if (value === null) localStorage.removeItem(key);
    else localStorage.setItem(key, value);
  } catch { /* then it holds until the page is left */ }
}

/** Whether somebody has signed in here, and might want to sign out: the cookie itself is not for
 * scripts to see. */
export const sessionKept = () => kept(SIGNED_IN) !== null;
export const keepSession = (is) => keep(SIGNED_IN, is ? 'yes' : null);
