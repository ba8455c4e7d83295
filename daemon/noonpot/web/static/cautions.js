// What can hurt a person, said where it is about to.

export const GLARE = 'Stand behind the cooker, in its shadow. Never look into the mirrors, at the '
  + 'hot spot or into the sun.';
export const HOT = 'Gloves on: pot, glass and mirrors burn. Open the lid away from your face.';
export const SECOND = 'This food can make people ill: check it with a second thermometer, in its '
  + 'coldest spot, before anybody eats.';
export const COVER = 'Hot: gloves; cover it or turn it away.';
export const ALONE = 'Never rely on Noonpot alone. No message means nothing: look at the food.';

/** Alarms about people's health: they cannot be put off. */
export const SAFETY = new Set(['danger-zone', 'hold', 'cooling', 'food-unknown']);

const TO_TURN = new Set(['turn']);
const TO_TOUCH = new Set(['preheated', 'done', 'overdone', 'soon', 'rescue', 'boil-dry', 'lid']);

/** What to mind when one does what an alarm asks. */
export const cautionOf = (alarm) =>
  (TO_TURN.has(alarm) ? GLARE : TO_TOUCH.has(alarm) ? HOT : '');
