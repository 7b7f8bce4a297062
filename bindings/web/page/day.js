// The day: made up by a stated formula, or of a logger that hung in the crop. Times are seconds of the wall clock from
// the first midnight of the record; the page needs no more, since no sun is computed from them.

export const HOUR = 3600;
const DAYS = 3; // what is sprayed in the evening of the first may stay wet for two

/**
 * A made-up day, the same three times: every half hour, linear in between.
 *   temperature   (warmest + coolest) / 2 + (warmest - coolest) / 2 cos(2 pi (t - 15 h) / 24 h)
 *   humidity      the vapour that the coolest air holds at `humidity`, kept all day
 *   light         noon sin(pi (t - 6 h) / 12 h) from 6 to 18 o'clock, none at night
 */
export function madeUpDay({ coolest, warmest, humidity, noon }, scenario, wetspan) {
  const weather = empty();
  for (let t = 0; t <= DAYS * 24 * HOUR; t += HOUR / 2) {
    const hour = (t / HOUR) % 24;
    const swing = Math.cos((2 * Math.PI * (hour - 15)) / 24);
    const temperature = (warmest + coolest) / 2 + ((warmest - coolest) / 2) * swing;
    weather.time.push(t);
    weather.temperature.push(temperature);
    weather.relative_humidity.push(wetspan.humidityKept(humidity, coolest, temperature));
    weather.shortwave.push(Math.max(0, noon * Math.sin((Math.PI * (hour - 6)) / 12)));
  }
  return still(weather, scenario, wetspan);
}

/** The day that a logger measured; where it has no light, that of the made-up day. */
export function loggedDay(record, { noon }, scenario, wetspan) {
  const light = (t) => Math.max(0, noon * Math.sin((Math.PI * (((t / HOUR) % 24) - 6)) / 12));
  return still({ ...record, shortwave: record.shortwave ?? record.time.map(light) }, scenario, wetspan);
}

/** Completes a record by what the scenario says of the air. */
function still(weather, scenario, wetspan) {
  const [pressure, speed] = ["air.pressure", "air.speed"].map((key) => scenario[wetspan.position(key)]);
  return {
    ...weather,
    exposure: "crop",
    pressure: weather.time.map(() => pressure),
    wind_speed: weather.time.map(() => speed),
  };
}

const empty = () => ({ time: [], temperature: [], relative_humidity: [], shortwave: [] });
