// Both ends of what the dried residue may do, by the rule of `ws.residue_ends`.

const [MOBILE, TIP] = ["uptake.mobile_share", "crop.leaf_tip_share"];

/**
 * The scenario with the least and with the largest mobile share of the residue that is plausible. The share that leaves
 * pass on to the tips moves the other way, so that their product stays, which is what the calibration knows.
 * @returns {Float64Array[]} the locked end and the mobile one
 */
export function residueEnds(parameters, values) {
  const [mobile, tip] = [MOBILE, TIP].map((key) => parameters.findIndex((row) => row.key === key));
  const within = (i, value) => Math.min(parameters[i].high, Math.max(parameters[i].low, value));
  const { spread } = parameters[mobile];
  return [1 / spread, spread].map((factor) => {
    const end = Float64Array.from(values);
    if (values[mobile] === 0) return end; // taken as stated
    end[mobile] = within(mobile, values[mobile] * factor);
    end[tip] = within(tip, (values[tip] * values[mobile]) / end[mobile]);
    return end;
  });
}
