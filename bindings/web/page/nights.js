// Which times of spraying leave the crop wet into the night or for too long, by the rules of Python's nights.py.
import { HOUR } from "./day.js";

const DAY = 24 * HOUR;

/**
 * Sunrise and sunset of a day of a record [s], by its light: from the first value above `dark` to the first below it
 * after the last above. NaN where the record does not show them.
 */
export function sun({ time, shortwave }, day, dark) {
  const lit = time.flatMap((t, i) => (Math.floor(t / DAY) === day && shortwave[i] >= dark ? [i] : []));
  const [first, last] = [lit[0], lit.at(-1)];
  return {
    rise: first > 0 && shortwave[first - 1] < dark ? time[first] : NaN,
    set: last + 1 < time.length && shortwave[last + 1] < dark ? time[last + 1] : NaN,
  };
}

/** Whether leaves that are wet from `start` for `wet` [s] are wet past sunset, or dry before sunrise. */
function pastSunset(weather, start, wet, dark) {
  const { rise, set } = sun(weather, Math.floor(start / DAY), dark);
  const dry = start + wet;
  return wet > 0 && (dry > set || (start < rise && dry < rise));
}

/** For each spray whether it is wet past sunset, and whether for too long; a re-wetting counts by itself. */
export function marks(sprays, weather, { longest, delay }, { limit, dark }) {
  return sprays.map(({ start, numbers }) => {
    const [first, again] = [numbers.wet_time, numbers.rewet_time].map((wet) => Math.min(wet, longest));
    return {
      past: pastSunset(weather, start, first, dark) || pastSunset(weather, start + delay, again, dark),
      long: first > limit || again > limit,
    };
  });
}
