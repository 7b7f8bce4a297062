// Computes for the page, off the thread that draws it. A newer question ends the one in hand.
import { drawnInputs, influence, load, quantile } from "../src/wetspan.js";
import { loggedDay, madeUpDay } from "./day.js";
import { marks } from "./nights.js";

const DRAWS = 64; // for the day, as many as `wetspan day` takes
const MORE = 512; // for the chosen time: of fewer, chance alone gives an input a tenth of the range
const TELL_EVERY = 250; // ms, between two pictures of growing bands
let wetspan;
let texts; // what the page has in common with Python
let newest = 0;

/** Lets messages in that came meanwhile. */
const breathe = () =>
  new Promise((go) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = go;
    port2.postMessage(0);
  });

self.onmessage = async ({ data }) => {
  if (data.wasm) {
    try {
      wetspan = await load(data.wasm);
      texts = data.texts;
      const { version, parameters, sections, outcomes } = wetspan;
      self.postMessage({ kind: "ready", version, parameters, sections, outcomes });
    } catch (error) {
      self.postMessage({ kind: "broken", message: error.message });
    }
    return;
  }
  try {
    if (data.kind === "file") {
      self.postMessage({ kind: "file", text: wetspan.toToml(wetspan.scenario(data.inputs), data) });
      return;
    }
    newest = data.id;
    await answer(data);
  } catch (error) {
    self.postMessage({ kind: "refused", id: data.id, name: error.name, message: error.message });
  }
};

function weatherOf(day, values) {
  return day.record ? loggedDay(day.record, day, values, wetspan) : madeUpDay(day, values, wetspan);
}

/**
 * What the fastest hour costs beside the slowest, at both ends of what the dried residue does: growth control there over
 * that at the slowest, with the share that stays mobile. Of sprays that do not dry nothing can be told.
 */
function ends(values, weather, sprays) {
  const dry = sprays.filter((spray) => spray.status === "dry");
  if (dry.length < 2) return null;
  const by = (better) => dry.reduce((best, spray) => (better(spray.numbers.wet_time, best.numbers.wet_time) ? spray : best));
  const [fast, slow] = [by((a, b) => a < b), by((a, b) => a > b)].map((spray) => spray.start);
  if (fast === slow) return null;
  const mobile = wetspan.position("uptake.mobile_share");
  const told = wetspan.residueEnds(values).map((end) => {
    const [at, beside] = wetspan.simulateMany(end, weather, [fast, slow]).map((spray) => spray.numbers.growth_control);
    return { share: end[mobile], ratio: at / beside };
  });
  return told.every(({ ratio }) => Number.isFinite(ratio)) ? { fast, slow, told } : null;
}

async function answer({ id, inputs, day, starts, chosen, asked }) {
  const values = wetspan.scenario(inputs);
  const weather = weatherOf(day, values);
  const sprays = wetspan.simulateMany(values, weather, starts);
  const failed = sprays.find((spray) => spray.status === "failed");
  if (failed) throw new Error(failed.reason);
  const air = wetspan.airAt(values, weather, starts);
  const one = sprays[starts.indexOf(chosen)];
  const [longest, delay] = ["numerics.longest", "rewetting.delay"].map((key) => values[wetspan.position(key)]);
  const nights = marks(sprays, weather, { longest, delay }, texts.nights);
  self.postMessage({ kind: "answer", id, asked, sprays, nights, ends: ends(values, weather, sprays), air, one, weather, chosen });
  await breathe();
  if (newest !== id) return;
  // followed by the full system, which takes as long as all the day
  const { history } = wetspan.simulate(values, { weather, start: chosen, history: true });
  self.postMessage({ kind: "history", id, history });

  const hours = starts.filter((start) => start % 3600 === 0);
  const days = []; // outcomes of every draw at every hour
  const ones = []; // scenario and outcome of every draw at the chosen time
  const drawn = drawnInputs(wetspan.parameters, values);
  let told = performance.now();
  const tell = (more = {}) => {
    told = performance.now();
    const column = (name) => ones.map((draw) => draw.numbers[name]);
    const range = (all) => [0.1, 0.5, 0.9].map((share) => quantile(all, share));
    const split = wetspan.outcomes.filter((row) => row.name.startsWith("split."));
    self.postMessage({
      kind: "ranges",
      id,
      hours,
      draws: [days.length, DRAWS],
      wet: hours.map((_, place) => range(days.map((sprays_) => sprays_[place].numbers.wet_time))),
      chosen: range(column("wet_time")),
      split: Object.fromEntries(split.map((row) => [row.name, range(column(row.name))])),
      ...more,
    });
  };
  /** Computes draws one by one; false where a newer question came. Those that cannot be followed are left out. */
  const each = async (samples, work) => {
    for (const sample of samples) {
      await breathe();
      if (newest !== id) return false;
      work(sample);
      if (ones.length >= 8 && performance.now() - told > TELL_EVERY) tell();
    }
    return true;
  };
  const followed = (sample, times) => {
    const done = wetspan.simulateMany(sample, weatherOf(day, sample), times);
    return done.every((spray) => spray.status !== "failed") ? done : null;
  };
  const keep = (sample, spray) => ones.push({ values: sample, numbers: spray.numbers });
  const both = (sample) => {
    const done = followed(sample, [...hours, chosen]);
    if (!done) return;
    keep(sample, done.pop());
    days.push(done);
  };
  if (!(await each(wetspan.draw(values, DRAWS, 1), both))) return;
  tell();
  const single = (sample) => {
    const done = followed(sample, [chosen]);
    if (done) keep(sample, done[0]);
  };
  if (!(await each(wetspan.draw(values, MORE, 2), single))) return;
  const least = 11 / ones.length; // chance gives one of some sixty inputs as much in one of twenty cases
  const influences = ["wet_time", "split.leaf"].map((name) => ({
    name,
    inputs: drawn
      .map((i) => ({
        key: wetspan.parameters[i].key,
        share: influence(
          ones.map((draw) => draw.values[i]),
          ones.map((draw) => draw.numbers[name]),
        ),
      }))
      .filter((one) => one.share > least)
      .sort((a, b) => b.share - a.share)
      .slice(0, 6),
  }));
  tell({ influences, all: ones.length });
}
