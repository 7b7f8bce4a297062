// The library as a JavaScript module: scenarios in, outcomes out, one table of inputs. Types: index.d.ts.
import createCore from "#core";
import { draw } from "./draws.js";
import { InputError, IntegrationError } from "./errors.js";
import { exact, valueInSi } from "./units.js";

export { InputError, IntegrationError } from "./errors.js";
export { convert } from "./units.js";
export { drawnInputs, influence, quantile } from "./draws.js";

const ERRORS = { InputError, IntegrationError };

/** Returns what the core answered, or throws what went wrong there. */
function told(answer) {
  if (answer?.error) throw new (ERRORS[answer.error] ?? Error)(answer.message);
  return answer;
}

/** Loads the library from the bytes of core.wasm. */
export async function load(wasm) {
  const core = await createCore({ wasmBinary: wasm });
  const parameters = core.table();
  const sections = core.sections();
  const outcomes = core.outcomes();
  const position = new Map(parameters.map((row, i) => [row.key, i]));

  const rowOf = (key) => {
    if (!position.has(key)) told(core.position(key));
    return parameters[position.get(key)];
  };

  /** Dotted keys and sections as one list of dotted keys. */
  function flat(given) {
    if (given === null || typeof given !== "object" || Array.isArray(given)) {
      throw new InputError("a scenario is an object of inputs, such as {application: {volume_rate: '2 qt / (100 ft^2)'}}");
    }
    return Object.entries(given).flatMap(([name, inside]) => {
      if (name.includes(".")) return [[name, inside]];
      if (!sections.some((section) => section.name === name)) {
        throw new InputError(`unknown section '${name}'; sections are ${sections.map((row) => row.name).join(", ")}`);
      }
      if (inside === null || typeof inside !== "object") {
        const row = parameters.find((one) => one.section === name);
        throw new InputError(`'${name}' is a section; give its inputs, such as ${row.name}`);
      }
      return Object.entries(inside).map(([input, value]) => [`${name}.${input}`, value]);
    });
  }

  /** Values of every input in SI and the table's order, from another set and what differs from it. */
  function scenario(given = {}, from = null) {
    const values = from ? Float64Array.from(from) : Float64Array.from(parameters, (row) => row.standard);
    for (const [key, value] of flat(given)) {
      const row = rowOf(key);
      values[position.get(key)] = valueInSi(row, value);
    }
    told(core.check(values));
    return values;
  }

  const numbers = (column, offset, step) =>
    Object.fromEntries(outcomes.map((row, i) => [row.name, column[offset + i * step]]));

  return {
    version: core.version(),
    parameters,
    sections,
    outcomes,
    position: (key) => (rowOf(key), position.get(key)),
    scenario,

    simulate(values, { weather = null, start = 0, history = false } = {}) {
      const { values: column, ...rest } = told(core.simulate(values, weather, start, history));
      return { numbers: numbers(column, 0, 1), ...rest };
    },

    simulateMany(values, weather, starts) {
      const { values: columns, status, reasons } = told(core.simulateMany(values, weather, starts));
      return Array.from(starts, (start, i) => ({
        start,
        numbers: numbers(columns, i, starts.length),
        status: status[i],
        reason: reasons[i] ?? "",
      }));
    },

    airAt: (values, weather, moments) => told(core.airAt(values, weather, moments)),
    humidityKept: (humidity, from, temperature) => core.humidityKept(humidity, from, temperature),
    draw: (values, count, seed) => draw(parameters, values, count, seed),
    residueEnds: (values) => told(core.residueEnds(values)),

    toToml(values, { title = "", units = {} } = {}) {
      const lines = title ? [`title = ${JSON.stringify(title)}`] : [];
      for (const { name } of sections) {
        const inside = parameters.flatMap((row, i) => {
          if (row.section !== name || values[i] === row.standard) return [];
          if (row.kind === "choice") return [`${row.name} = "${row.choices[values[i]]}"`];
          if (row.kind === "toggle") return [`${row.name} = ${values[i] === 1}`];
          if (row.kind === "count" || row.shown === "1") return [`${row.name} = ${values[i]}`];
          return [`${row.name} = "${exact(row, values[i], units[row.key] ?? row.shown)}"`];
        });
        if (inside.length) lines.push(...(lines.length ? [""] : []), `[${name}]`, ...inside);
      }
      return lines.join("\n") + "\n";
    },
  };
}
