// Compiled, not run: what index.d.ts lets through and what it does not.
import { InputError, load, Scenario, Wetspan } from "../../build/web/module/index";

export async function use(wasm: Uint8Array): Promise<number> {
  const wetspan: Wetspan = await load(wasm);
  const scenario: Scenario = wetspan.scenario({
    application: { volume_rate: "2 qt / (100 ft^2)", method: "spray" },
    "air.temperature": 297.15,
  });
  // @ts-expect-error: there is no such input
  wetspan.scenario({ air: { temprature: 297.15 } });
  // @ts-expect-error: there is no such method
  wetspan.scenario({ application: { method: "spry" } });
  try {
    return wetspan.simulate(scenario).numbers.wet_time;
  } catch (error) {
    if (error instanceof InputError) return Number.NaN;
    throw error;
  }
}
