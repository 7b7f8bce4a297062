// Units at the door: text such as "2 qt / (100 ft^2)" becomes a number in the SI unit of the table, and back.
import { InputError } from "./errors.js";

// Factor to SI, and powers of m, kg, s, K and mol. Foot, inch, quart and ounce are exact (NIST SP 811, appendix B).
const UNITS = {
  1: [1, {}],
  percent: [0.01, {}],
  rad: [1, {}],
  deg: [Math.PI / 180, {}],
  m: [1, { m: 1 }],
  cm: [1e-2, { m: 1 }],
  mm: [1e-3, { m: 1 }],
  um: [1e-6, { m: 1 }],
  ft: [0.3048, { m: 1 }],
  inch: [0.0254, { m: 1 }],
  L: [1e-3, { m: 3 }],
  mL: [1e-6, { m: 3 }],
  qt: [9.46352946e-4, { m: 3 }],
  gal: [3.785411784e-3, { m: 3 }],
  fluid_ounce: [2.95735295625e-5, { m: 3 }],
  s: [1, { s: 1 }],
  min: [60, { s: 1 }],
  hour: [3600, { s: 1 }],
  day: [86400, { s: 1 }],
  kg: [1, { kg: 1 }],
  g: [1e-3, { kg: 1 }],
  mg: [1e-6, { kg: 1 }],
  ug: [1e-9, { kg: 1 }],
  K: [1, { K: 1 }],
  delta_degC: [1, { K: 1 }],
  delta_degF: [5 / 9, { K: 1 }],
  mol: [1, { mol: 1 }],
  N: [1, { kg: 1, m: 1, s: -2 }],
  mN: [1e-3, { kg: 1, m: 1, s: -2 }],
  Pa: [1, { kg: 1, m: -1, s: -2 }],
  kPa: [1e3, { kg: 1, m: -1, s: -2 }],
  bar: [1e5, { kg: 1, m: -1, s: -2 }],
  psi: [0.45359237 * 9.80665 / 0.0254 ** 2, { kg: 1, m: -1, s: -2 }],
  J: [1, { kg: 1, m: 2, s: -2 }],
  kJ: [1e3, { kg: 1, m: 2, s: -2 }],
  W: [1, { kg: 1, m: 2, s: -3 }],
};
/** Temperatures with a zero of their own: kelvin = (value + shift) * factor. */
const TEMPERATURES = { degC: [273.15, 1], degF: [459.67, 5 / 9], K: [0, 1] };

const NUMBER = /^\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$/;

/** How units are written every day, and how they are read here. */
const EVERYDAY = [
  [/%/g, " percent"],
  [/\bper\b/g, "/"],
  [/\bfl(?:uid)?[\s._]*(?:oz|ounces?)\b/gi, "fluid_ounce"],
  [/\bsq(?:uare)?[\s.]*(ft|inch|cm|m)\b/gi, "$1^2"],
  [/(?<=[A-Za-z])([23])\b/g, "^$1"],
  [/^([^()]*)\/([^()/]*)$/, "$1/($2)"], // "qt / 100 ft^2" is per 100 ft^2
  [/^\s*\//, "1/"],
];

/** Factor and powers of a unit such as "qt / (100 ft^2)"; null where it cannot be read. */
function read(unit) {
  const text = EVERYDAY.reduce((left, [everyday, written]) => left.replace(everyday, written), unit);
  const parts = text.match(/[A-Za-z_]+|\d+(?:\.\d+)?|[()/*^-]|\S/g) ?? [];
  let at = 0;
  const times = (a, b, sign) => {
    const powers = { ...a[1] };
    for (const [name, power] of Object.entries(b[1])) powers[name] = (powers[name] ?? 0) + sign * power;
    return [a[0] * b[0] ** sign, powers];
  };
  const single = () => {
    const part = parts[at++];
    let result;
    if (part === "(") {
      result = product();
      if (parts[at++] !== ")") return null;
    } else if (part !== undefined && /^\d/.test(part)) {
      result = [Number(part), {}];
    } else {
      result = part !== undefined && Object.hasOwn(UNITS, part) ? UNITS[part] : null;
    }
    if (result && parts[at] === "^") {
      at++;
      const sign = parts[at] === "-" ? (at++, -1) : 1;
      if (!/^[1-3]$/.test(parts[at] ?? "")) return null;
      const power = sign * Number(parts[at++]);
      result = [
        result[0] ** power,
        Object.fromEntries(Object.entries(result[1]).map(([name, one]) => [name, one * power])),
      ];
    }
    return result;
  };
  const product = () => {
    let [result, below] = [single(), false];
    while (result && at < parts.length && parts[at] !== ")") {
      const sign = parts[at] === "/" ? -1 : 1;
      if (sign === 1 && below) return null; // is it above or below the line?
      below ||= sign === -1;
      if (parts[at] === "/" || parts[at] === "*") at++;
      const next = single();
      result = next && times(result, next, sign);
    }
    return result;
  };
  const result = product();
  return at === parts.length ? result : null;
}

const same = (a, b) => {
  const names = new Set([...Object.keys(a), ...Object.keys(b)]);
  return [...names].every((name) => (a[name] ?? 0) === (b[name] ?? 0));
};

/** @returns {number} `value` of one unit in another; throws InputError where they are not of one kind. */
export function convert(value, unit, to) {
  if (unit === to) return value;
  if (unit in TEMPERATURES && to in TEMPERATURES) {
    const [[shift, factor], [back, per]] = [TEMPERATURES[unit], TEMPERATURES[to]];
    if (shift === 273.15 && back === 0) return value + 273.15;
    if (shift === 0 && back === 273.15) return value - 273.15;
    return ((value + shift) * factor) / per - back;
  }
  const [from, into] = [read(unit), read(to)];
  if (!from) throw new InputError(`there is no unit '${unit}'; the usual one is ${to}`);
  if (!into) throw new InputError(`there is no unit '${to}'`);
  if (!same(from[1], into[1])) throw new InputError(`'${unit}' is not a unit of the kind of ${to}`);
  return (value * from[0]) / into[0];
}

/** A number with its unit as people write it; a share has none. */
export const withUnit = (number, unit) => (unit === "1" ? `${number}` : `${number} ${unit}`);

/** A number to some digits, without trailing zeros and without powers of ten where they can be helped. */
export const digits = (value, count = 4) => String(Number(value.toPrecision(count)));

/** "; did you mean '50 cm'?" of a number that is not allowed in its unit and is in another that people write, or "". */
export function meant(row, number, unit) {
  if (row.unit === "1") return "";
  const allowed = (other) => other !== unit && other !== "1" && ((si) => si >= row.low && si <= row.high)(convert(number, other, row.unit));
  const temperatures = row.unit === "K" ? ["degC", "degF"].filter(allowed) : null;
  const others = temperatures ?? [row.shown, ...(["m", "cm", "mm"].includes(row.shown) ? ["cm", "mm"] : [])].filter(allowed).slice(0, 1);
  return others.length ? `; did you mean ${others.map((other) => `'${withUnit(digits(number, 6), other)}'`).join(" or ")}?` : "";
}

/** @returns {number} what was given, in the unit of the table's row; a bare number is in that unit. */
export function valueInSi(row, given) {
  const refuse = (why) => new InputError(`${row.key} = ${JSON.stringify(given)} ${why}`);
  if (row.kind === "choice") {
    const position = typeof given === "string" ? row.choices.indexOf(given) : given;
    if (Number.isInteger(position) && position >= 0 && position < row.choices.length) return position;
    throw refuse(`is not ${row.choices.map((name) => `'${name}'`).join(" or ")}`);
  }
  if (row.kind === "toggle") {
    if (given === true || given === false || given === 0 || given === 1) return Number(given);
    throw refuse("is neither true nor false");
  }
  if (typeof given === "number") return given;
  if (typeof given !== "string") throw refuse("is not a number or a text with a unit");
  const [, number, unit] = NUMBER.exec(given) ?? [];
  if (number === undefined) throw refuse("does not begin with a number");
  // "2 1/2 qt" and "1/2 qt" are no product of a number and a unit
  if (/^[-+,\d\u00bc-\u00be\u2150-\u215e]|^\/\s*\d/.test(unit)) throw refuse("does not begin with one plain number, such as 2.5");
  const usual = withUnit(digits(convert(row.standard, row.unit, row.shown)), row.shown);
  if (unit === "" && row.unit !== "1") throw refuse(`has no unit; write for example '${usual}'`);
  let value;
  try {
    const plain = row.unit === "delta_degC" ? unit.replace(/^deg([CF])$/, "delta_deg$1") : unit;
    value = convert(Number(number), plain === "" ? "1" : plain, row.unit);
  } catch (error) {
    throw refuse(`cannot be read: ${error.message}`);
  }
  if (value < row.low || value > row.high) {
    const back = (bound) => digits(convert(bound, row.unit, unit === "" ? "1" : unit), 5);
    const allowed = `${back(row.low)} to ${withUnit(back(row.high), unit || "1")}`;
    throw refuse(`is outside what is allowed, ${allowed}${meant(row, Number(number), unit || "1")}`);
  }
  return value;
}

/** A value of the table as text in `unit` (the shown one, if left out), which `ws.load` reads back to it. */
export function exact(row, value, unit = row.shown) {
  const to = unit === row.unit ? (x) => x : (x) => convert(x, row.unit, unit);
  for (const count of [6, 9, 12, 15, 17]) {
    const text = withUnit(digits(to(value), count), unit);
    if (convert(Number(digits(to(value), count)), unit, row.unit) === value) return text;
  }
  return withUnit(String(value), row.unit);
}
