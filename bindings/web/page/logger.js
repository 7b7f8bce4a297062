// A logger's CSV file, read on the page. What a heading does not say, the person is asked; nothing is guessed in silence.

/** A file that cannot be read; the message is one line that says where and why. */
export class FileError extends Error {}

/** Quantities of a record: unit choices with how they become SI, bounds of what can be, words in headings. */
export const QUANTITIES = {
  temperature: {
    name: "air temperature",
    units: { degC: (x) => x + 273.15, degF: (x) => ((x + 459.67) * 5) / 9 },
    low: 263.15,
    high: 323.15,
    heading: /temp|^t\b/i,
  },
  relative_humidity: {
    name: "relative humidity",
    units: { percent: (x) => x / 100, "share of 1": (x) => x },
    low: 0.01,
    high: 1,
    heading: /hum|\brh\b/i,
  },
  shortwave: {
    name: "light (shortwave)",
    units: { "W/m^2": (x) => x, "kW/m^2": (x) => 1000 * x },
    low: 0,
    high: 1400,
    heading: /solar|short|radiation|irradiance|light/i,
    optional: true,
  },
};

/** The words of a heading in small letters, without what stands in brackets. */
const words = (heading) => heading.replace(/[([][^)\]]*([)\]]|$)/g, " ").replace(/[^\p{L}\p{N}]+/gu, " ").trim().toLowerCase();

/**
 * Whether a heading is of a quantity of the air and light at the crop. `others` are Python's patterns of what else
 * headings are of (weather/headings.py); a person may still choose such a column.
 */
export function isAbout(key, heading, others) {
  const said = words(heading);
  const else_ = [others.not_about, others.elsewhere, ...(key === "shortwave" ? [others.photosynthetic] : [])];
  if (else_.some((pattern) => new RegExp(pattern, "u").test(said))) return false;
  if (key === "relative_humidity" && new RegExp(others.not_relative, "u").test(heading)) return false;
  return QUANTITIES[key].heading.test(heading);
}

const CLOCK = String.raw`[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*([AaPp][Mm])?\s*(Z|[+-]\d{2}:?\d{2})?$`;
/** How stamps may be written: pattern, and the places of year, month and day in it. */
export const STAMPS = {
  "year-month-day": [new RegExp(String.raw`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})` + CLOCK), [1, 2, 3]],
  "month/day/year": [new RegExp(String.raw`^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})` + CLOCK), [3, 1, 2]],
  "day/month/year": [new RegExp(String.raw`^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})` + CLOCK), [3, 2, 1]],
};
const LONGEST_GAP = 3 * 3600; // s

/** Fields of a line; a quoted field may hold the delimiter. */
function split(line, delimiter) {
  const fields = [];
  let [field, quoted] = ["", false];
  for (const letter of line) {
    if (letter === '"') quoted = !quoted;
    else if (letter === delimiter && !quoted) (fields.push(field.trim()), (field = ""));
    else field += letter;
  }
  return [...fields, field.trim()];
}

/** What to do about a first line that no comma, semicolon or tab divides. */
function divided(line) {
  const mark = [..."|^~"].find((one) => line.includes(one));
  const between = mark ? `'${mark}'` : /\S {2,}\S/.test(line) ? "spaces" : "";
  return between && `; its columns have ${between} between them; save it with commas, semicolons or tabs there`;
}

/** Finds headings and rows; returns { name, headings, rows, lines } with the number of each row's line. */
export function open(text, name) {
  if (/[\0-\x08\x0e-\x1f]/.test(text)) throw new FileError(`${name} is not a text file; save the logger's data as CSV`);
  const lines = text.replace(/^\ufeff/, "").split(/\r\n|\r|\n/);
  for (let i = 0; i < Math.min(lines.length, 100); i++) {
    for (const delimiter of [",", ";", "\t"]) {
      const headings = split(lines[i], delimiter);
      const known = Object.values(QUANTITIES).filter(
        (one) => !one.optional && headings.some((heading) => one.heading.test(heading)),
      );
      if (headings.length < 3 || known.length < 2) continue;
      const [rows, numbers] = [[], []];
      for (let j = i + 1; j < lines.length; j++) {
        const fields = split(lines[j], delimiter);
        if (fields.every((field) => field === "")) continue;
        if (fields.length !== headings.length) {
          const told = `${fields.length} field${fields.length === 1 ? "" : "s"}`;
          throw new FileError(`${name}, line ${j + 1}: ${told}; the headings are ${headings.length}`);
        }
        rows.push(fields);
        numbers.push(j + 1);
      }
      if (rows.length < 2) throw new FileError(`${name}: ${rows.length} line(s) after the headings; a record needs two or more`);
      return { name, headings, rows, lines: numbers, delimiter };
    }
  }
  throw new FileError(
    `${name}: no line of headings with a time, a temperature and a humidity in its first ${Math.min(lines.length, 100)} line(s)${divided(lines[0])}`,
  );
}

/** What the headings say: { columns: {time, temperature, ...}, units: {...}, stamp }, undefined where they do not say. */
export function heard(file, others) {
  const columns = { time: Math.max(0, file.headings.findIndex((heading) => /time|date/i.test(heading))) };
  const units = {};
  for (const key of Object.keys(QUANTITIES)) {
    const at = file.headings.findIndex((heading, i) => i !== columns.time && isAbout(key, heading, others));
    if (at < 0) continue;
    columns[key] = at;
    const heading = file.headings[at];
    if (key === "temperature") units[key] = /\b(deg ?|°)?F\b|fahrenheit/i.test(heading) ? "degF" : /\b(deg ?|°)?C\b|celsius/i.test(heading) ? "degC" : undefined;
    if (key === "relative_humidity") units[key] = /%|percent/i.test(heading) ? "percent" : undefined;
    if (key === "shortwave") units[key] = /kW(?!h)/.test(heading) ? "kW/m^2" : /\bW(?!h)/.test(heading) ? "W/m^2" : undefined;
  }
  const can = (read_) => (way) => {
    try {
      read_(file, columns.time, way);
      return true;
    } catch {
      return false;
    }
  };
  let ways = Object.keys(STAMPS).filter(can(moments)); // 03/04 may be of March or of April
  if (ways.length > 1) ways = ways.filter(can(stamps));
  return { columns, units, stamp: ways.length === 1 ? ways[0] : undefined };
}

const where = (file, row, column) => `${file.name}, line ${file.lines[row]}: ${file.headings[column]} is '${file.rows[row][column]}'`;

/** Moments [ms] of the wall clock, as the stamps give them. */
function moments(file, column, way) {
  const [pattern, [year, month, day]] = STAMPS[way];
  let offset;
  return file.rows.map((fields, row) => {
    const found = pattern.exec(fields[column]);
    const at = where(file, row, column);
    if (!found) throw new FileError(`${at}, which is not a time written ${way} hour:minute`);
    const [hour, minute, second = 0, half, zone] = found.slice(4);
    const full = found[year].length === 2 ? 2000 + Number(found[year]) : Number(found[year]);
    const clock = half ? (Number(hour) % 12) + (/p/i.test(half) ? 12 : 0) : Number(hour);
    const moment = new Date(Date.UTC(full, found[month] - 1, found[day], clock, minute, second));
    if (moment.getUTCMonth() !== found[month] - 1 || clock > 23 || minute > 59) {
      throw new FileError(`${at}, which no calendar has`);
    }
    if (row > 0 && zone !== offset) {
      throw new FileError(`${at}: its offset from UTC differs from that of the first line`);
    }
    offset = zone;
    return moment.getTime();
  });
}

/** The same, refused where they do not increase or leave a gap of more than three hours. */
function stamps(file, column, way) {
  const result = moments(file, column, way);
  for (let row = 1; row < result.length; row++) {
    const step = (result[row] - result[row - 1]) / 1000;
    const [at, before] = [where(file, row, column), `line ${file.lines[row - 1]}`];
    if (step <= 0) throw new FileError(`${at}, not after ${before}; times have to increase`);
    if (step > LONGEST_GAP) {
      throw new FileError(`${at}, ${(step / 3600).toFixed(1)} h after ${before}; up to 3 h is allowed`);
    }
  }
  return result;
}

/**
 * The record: { record: {time, temperature, relative_humidity, shortwave?}, days: [{name, start}] } in SI, time from the
 * first midnight; a day is one whose hours from 6 on are in the record.
 */
export function read(file, { columns, units, stamp }) {
  if (!stamp) throw new FileError(`${file.name}: say how its dates are written`);
  const times = stamps(file, columns.time, stamp);
  const midnight = Math.floor(times[0] / 86400000) * 86400000;
  const record = { time: times.map((time) => (time - midnight) / 1000) };
  for (const [key, quantity] of Object.entries(QUANTITIES)) {
    const column = columns[key];
    if (column === undefined || column < 0) {
      if (quantity.optional) continue;
      throw new FileError(`${file.name}: say which column is the ${quantity.name}`);
    }
    if (!units[key]) throw new FileError(`${file.name}: say which unit '${file.headings[column]}' is in`);
    record[key] = file.rows.map((fields, row) => {
      const text = file.delimiter === "," ? fields[column] : fields[column].replace(",", ".");
      const value = text === "" ? NaN : quantity.units[units[key]](Number(text));
      if (Number.isNaN(value)) throw new FileError(`${where(file, row, column)}; a number is needed`);
      // loggers read a little beyond what can be, such as 100.4 % or -1 W/m2
      const slack = key === "temperature" ? 0 : key === "shortwave" ? 5 : 0.03;
      if (value < quantity.low - slack || value > quantity.high + slack) {
        throw new FileError(`${where(file, row, column)} ${units[key]}, which no greenhouse has; is the unit right?`);
      }
      return Math.min(quantity.high, Math.max(quantity.low, value));
    });
  }
  const end = record.time.at(-1);
  const days = [];
  for (let start = 0; start < end; start += 86400) {
    const first = Math.max(start + 6 * 3600, record.time[0]);
    if (first + 2 * 3600 > Math.min(end, start + 20 * 3600)) continue;
    days.push({ name: new Date(midnight + 1000 * start).toISOString().slice(0, 10), start });
  }
  if (!days.length) throw new FileError(`${file.name}: no day of it has two hours of readings between 6 and 20 o'clock`);
  return { record, days };
}
