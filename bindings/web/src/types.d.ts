// wetspan for JavaScript: a spray in a greenhouse, from nozzle to dry leaf. SI, unless a text carries a unit.

/** Keys of the table of inputs. */
export type Key = string;

/** Inputs by section. A text carries its unit, such as "2 qt / (100 ft^2)"; what is left out keeps its default. */
export interface Sections {}

/** What differs from the defaults: by section, by key, or both. */
export type ScenarioInput = Sections & { [key in Key]?: number | string | boolean };

/** A value of every input, in SI and the order of the table. */
export type Scenario = Float64Array;

/** What one spray comes to, by the names of the table of outcomes. */
export interface Numbers {}

export interface Parameter {
  key: Key;
  section: string;
  name: string;
  kind: "number" | "count" | "toggle" | "choice";
  /** Default, in `unit`; a choice by its position. */
  standard: number;
  low: number;
  high: number;
  /** 90 % factor of plausible deviation; 1 for what a user states. */
  spread: number;
  unit: string;
  shown: string;
  grade: "A" | "B" | "C" | "D";
  /** What a value of grade A was measured on: this substance, crop or surface, or another; "" for others. */
  measured_on: "this" | "another" | "";
  source: string;
  meaning: string;
  choices: string[];
}

/** A record of weather outdoors, which drives the house, or of a logger at the crop, which is used as it is. */
export interface Weather {
  exposure: "outdoor" | "crop";
  /** [s], increasing; values are linear in between. */
  time: ArrayLike<number>;
  /** [K] */
  temperature: ArrayLike<number>;
  /** [1] */
  relative_humidity: ArrayLike<number>;
  /** [Pa] */
  pressure: ArrayLike<number>;
  /** [m/s]: at 10 m outdoors, at the crop otherwise. */
  wind_speed: ArrayLike<number>;
  /** [W/m2]: on the horizontal outdoors, at the top of the crop otherwise. */
  shortwave: ArrayLike<number>;
}

export type Status = "dry" | "wet at end" | "nothing wet" | "failed";

export interface Outcome {
  numbers: Numbers;
  status: Status;
  /** How the wet span was followed. */
  path: "clock" | "reference";
  /** Columns over `time` [s from the spray]: temperatures [K], shares [1]. */
  history?: Record<
    "time" | "leaf_temperature" | "air_temperature" | "relative_humidity" | "leaf_water" | "stem_water" | "wet_share",
    Float64Array
  >;
}

export interface Spray {
  start: number;
  /** NaN throughout where the status is "failed". */
  numbers: Numbers;
  status: Status;
  /** Why it failed, or "". */
  reason: string;
}

/** An input that is not allowed: what was given, what is allowed, the nearest name. */
export class InputError extends Error {}
/** An integration that could not be finished within its step bounds. */
export class IntegrationError extends Error {}

export interface Wetspan {
  version: string;
  parameters: Parameter[];
  sections: { name: string; about: string }[];
  outcomes: { name: keyof Numbers; unit: string; shown: string; meaning: string }[];
  /** Position of an input in the table; throws InputError with the nearest name. */
  position(key: Key): number;
  /** A scenario from what differs from the defaults, or from another scenario. Throws InputError. */
  scenario(given?: ScenarioInput, from?: Scenario): Scenario;
  /** One spray at `start` [s] of a record, or in the scenario's unchanging air. */
  simulate(scenario: Scenario, options?: { weather?: Weather | null; start?: number; history?: boolean }): Outcome;
  /** The same spray at many moments [s] of a record; what fails says why. */
  simulateMany(scenario: Scenario, weather: Weather | null, starts: ArrayLike<number>): Spray[];
  /** The air at the crop at moments [s] of a record: temperature [K], relative humidity [1], shortwave [W/m2]. */
  airAt(
    scenario: Scenario,
    weather: Weather | null,
    moments: ArrayLike<number>,
  ): Record<"temperature" | "relative_humidity" | "shortwave", Float64Array>;
  /** Relative humidity at `temperature` [K] of air that has `humidity` [1] at `from` [K] and keeps its vapour. */
  humidityKept(humidity: number, from: number, temperature: number): number;
  /** Draws of the unknown inputs by their spreads, a Latin hypercube of the seed. */
  draw(scenario: Scenario, count: number, seed?: number): Scenario[];
  /** The scenario at both ends of what its dried residue may do: uptake stops with the water, or goes on. */
  residueEnds(scenario: Scenario): [Scenario, Scenario];
  /** A scenario file, which `ws.load` reads; units by key, where not the shown one. */
  toToml(scenario: Scenario, options?: { title?: string; units?: { [key in Key]?: string } }): string;
}

/** Loads the library from the bytes of core.wasm. */
export function load(wasm: ArrayBuffer | Uint8Array): Promise<Wetspan>;
/** `value` of one unit in another, such as convert(84, "degF", "K"). */
export function convert(value: number, unit: string, to: string): number;
/** The value below which a share of the values lies, itself one of them. */
export function quantile(values: ArrayLike<number>, share: number): number;
/** Squared rank correlation of two columns. */
export function influence(inputs: ArrayLike<number>, outcomes: ArrayLike<number>): number;
