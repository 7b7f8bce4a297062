// Draws of the unknown inputs, by the rule of `ws.uncertainty`; another stream of random numbers, so single draws differ.

/** A stream of numbers in [0, 1): mulberry32. Enough for a Latin hypercube of a page, not for more. */
export function stream(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** Positions in the table of the inputs that are drawn: numbers with a spread whose value is above zero. */
export function drawnInputs(parameters, values) {
  return parameters.flatMap((row, i) => (row.kind === "number" && row.spread > 1 && values[i] > 0 ? [i] : []));
}

/**
 * Scenarios around one: every drawn input log-uniform within [value / spread, value * spread] and its bounds, by a
 * Latin hypercube; the receding contact angle is held below the advancing one. Tolerance is that of screening.
 * @returns {Float64Array[]}
 */
export function draw(parameters, values, count, seed = 1) {
  const random = stream(seed);
  const inputs = drawnInputs(parameters, values);
  const position = new Map(parameters.map((row, i) => [row.key, i]));
  const samples = Array.from({ length: count }, () => Float64Array.from(values));
  for (const i of inputs) {
    const { low, high, spread } = parameters[i];
    const from = Math.max(low, values[i] / spread);
    const to = Math.min(high, values[i] * spread);
    const order = Array.from({ length: count }, (_, k) => k);
    for (let k = count - 1; k > 0; k--) {
      const other = Math.floor(random() * (k + 1));
      [order[k], order[other]] = [order[other], order[k]];
    }
    samples.forEach((sample, k) => {
      const uniform = (order[k] + random()) / count;
      sample[i] = Math.min(to, Math.max(from, from * (to / from) ** uniform));
    });
  }
  const [receding, contact] = ["leaf.receding_angle", "leaf.contact_angle"].map((key) => position.get(key));
  const tolerance = position.get("numerics.tolerance");
  for (const sample of samples) {
    sample[receding] = Math.min(sample[receding], sample[contact]);
    sample[tolerance] = Math.max(sample[tolerance], 1e-4);
  }
  return samples;
}

/** The value below which a share of the values lies, itself one of them; they may be infinite, NaN does not count. */
export function quantile(values, share) {
  const sorted = [...values].filter((value) => !Number.isNaN(value)).sort((a, b) => a - b);
  return sorted.length ? sorted[Math.max(0, Math.ceil(share * sorted.length - 1e-9) - 1)] : NaN;
}

/** Ranks, those of equal values shared. */
function ranks(values) {
  const order = Array.from(values, (_, i) => i).sort((a, b) => values[a] - values[b]);
  const result = new Float64Array(values.length);
  for (let i = 0; i < order.length; ) {
    let j = i;
    while (j < order.length && values[order[j]] === values[order[i]]) j++;
    for (let k = i; k < j; k++) result[order[k]] = (i + j - 1) / 2;
    i = j;
  }
  return result;
}

/** Squared rank correlation of two columns: the share of one's rank variance that goes with the other. */
export function influence(inputs, outcomes) {
  const [x, y] = [ranks(inputs), ranks(outcomes)];
  const mean = (x.length - 1) / 2;
  let [xy, xx, yy] = [0, 0, 0];
  for (let i = 0; i < x.length; i++) {
    xy += (x[i] - mean) * (y[i] - mean);
    xx += (x[i] - mean) ** 2;
    yy += (y[i] - mean) ** 2;
  }
  return xx > 0 && yy > 0 ? xy ** 2 / (xx * yy) : 0;
}
