// Numbers and sentences as people read them.

export const clock = (seconds) => {
  const minutes = Math.round(seconds / 60) % 1440;
  return `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
};

/** A wet time such as "8.4 min", "35 min" or "2.5 h". */
export function duration(seconds) {
  if (!Number.isFinite(seconds)) return "longer than it was followed";
  const minutes = seconds / 60;
  if (minutes >= 120) return `${(minutes / 60).toFixed(minutes >= 600 ? 0 : 1)} h`;
  return `${minutes.toFixed(minutes >= 9.95 ? 0 : 1)} min`;
}

/** A range of wet times, its unit told once where both have the same. */
export function durations(low, high) {
  const [from, to] = [duration(low), duration(high)];
  const unit = to.split(" ")[1];
  return from === to ? from : `${from.endsWith(` ${unit}`) ? from.split(" ")[0] : from} to ${to}`;
}

export const percent = (share) => {
  const value = 100 * share;
  return value > 0 && value < 0.95 ? "under 1\u00a0%" : `${Math.round(value)}\u00a0%`;
};

export const shares = (low, high) => {
  const places = high < 0.02 ? 1 : 0;
  const [from, to] = [low, high].map((share) => (100 * share).toFixed(places));
  return from === to ? percent(high) : `${from} to ${to}\u00a0%`;
};

/** The grade of an input, for grade A with what it was measured on. */
export const graded = ({ grade, measured_on: on }) => (on ? `${grade}, measured on ${on} substance, crop or setting` : grade);

/** Where the spray goes, in the order in which it is met, and how a sentence tells it. */
export const TARGETS = [
  { name: "split.evaporated", label: "evaporates", told: "evaporates in flight" },
  { name: "split.airborne", label: "drifts on", told: "drifts on as fine mist" },
  { name: "split.leaf", label: "stays on leaves", told: "stays on the leaves" },
  { name: "split.stem", label: "stays on stems", told: "stays on stems" },
  { name: "split.substrate", label: "reaches the pot", told: "reaches the substrate in the pots" },
  { name: "split.bench", label: "bench and floor", told: "ends on bench and floor" },
];

/** A text of Python with its places in braces filled in. */
export const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

/** Times that are chosen as text, those that follow each other by the first and the last. */
function stretches(sprays, chosen) {
  const runs = [];
  chosen.forEach((is, i) => is && (i && chosen[i - 1] ? runs.at(-1).push(i) : runs.push([i])));
  return runs.map((run) => [run[0], run.at(-1)].filter((at, i) => !i || at !== run[0]).map((at) => clock(sprays[at].start)).join(" to ")).join(", ");
}

/** Which times leave the crop wet into the night or too long, and why that matters; "" where none does. */
export function aboutNights({ sprays, nights }, { told, caution, limit_shown: limit }) {
  const kinds = { past: nights.map(({ past }) => past), long: nights.map(({ past, long }) => long && !past) };
  const parts = Object.entries(kinds).filter(([, marked]) => marked.some(Boolean)).map(([how, marked]) => fill(told[how], { times: stretches(sprays, marked), limit }));
  return parts.length ? `${fill(told.all, { parts: parts.join(", ") })} ${caution}` : "";
}

/** What the fastest hour costs beside the slowest, at both ends of what the dried residue does. */
export function aboutEnds({ fast, slow, told: ends }, { told, ends: meanings, experiment, matters }) {
  const [stops, goes_on] = ends.map(({ share }, i) => fill(told.end, { what: meanings[i], share: (100 * share).toFixed(0) }));
  const [locked, mobile] = ends.map(({ ratio }) => ratio.toFixed(2));
  const first = `${fill(told.times, { stops, goes_on, locked, mobile, fast: clock(fast), slow: clock(slow) })}.`;
  const [little, much] = ends.map(({ ratio }) => Math.abs(1 - ratio)).sort((a, b) => a - b);
  if (much < matters) return `${first} ${told.little}`;
  return `${first} ${told[little >= matters ? "how much" : "whether"]} ${experiment}`;
}

/** The sentences of an answer: [{ text, strong? }][], a list for each paragraph. */
export function sentences(answer, ranges, texts) {
  const { sprays, nights, one, chosen } = answer;
  const wet = sprays.map((spray) => spray.numbers.wet_time);
  if (one.status === "nothing wet") {
    return [[{ text: "This way of application wets no leaf: the whole volume goes into the substrate, and the time of day does not matter for wetness." }]];
  }
  const now = one.numbers.wet_time;
  const first = [{ text: `Sprayed at ${clock(chosen)}, the leaves stay wet for ` }, { text: duration(now), strong: true }];
  if (ranges) {
    first.push({ text: ` (8 of 10 draws of what is not known: ${durations(ranges.chosen[0], ranges.chosen[2])}).` });
  } else first.push({ text: "." });

  const second = [];
  const places = wet.map((_, i) => i);
  const long = places.reduce((best, i) => (wet[i] > wet[best] ? i : best), 0);
  const short = places.reduce((best, i) => (wet[i] < wet[best] ? i : best), 0);
  if (wet[long] < 1.05 * wet[short]) {
    second.push({ text: `It is about as long at every hour of this day.` });
  } else {
    const ratio = wet[long] / wet[short];
    const times = Number.isFinite(ratio) ? `: ${ratio.toFixed(ratio >= 9.95 ? 0 : 1)} times as long` : "";
    const longest = Number.isFinite(wet[long]) ? `longest at ${clock(sprays[long].start)}, ${duration(wet[long])}` : `not dry within the record when sprayed at ${clock(sprays[long].start)}`;
    second.push({ text: `Over the day: ${longest}, and shortest at ${clock(sprays[short].start)}, ${duration(wet[short])}${times}.` });
  }

  const parts = TARGETS.map(({ name, told }) => [one.numbers[name], told]).filter(([share]) => share >= 0.005);
  parts.sort((a, b) => b[0] - a[0]);
  const [head, ...rest] = parts.map(([share, told], i) => (i ? `${percent(share)} ${told}` : told));
  const tail = rest.length > 1 ? `${rest.slice(0, -1).join(", ")} and ${rest.at(-1)}` : rest.join("");
  const third = [{ text: "Of the spray, " }, { text: percent(parts[0][0]), strong: true }, { text: ` ${head}${tail ? `; ${tail}` : ""}.` }];
  const night = nights[sprays.findIndex((spray) => spray.start === chosen)];
  if (night.past || night.long) first.push({ text: ` They are ${fill(texts.nights.told.mark, { limit: texts.nights.limit_shown })}.` });
  return [[...first, { text: " " }, ...second], third];
}

/** What the hour of spraying brings besides wet minutes: nights, and what the dried residue decides. */
export function aboutHours(answer, texts) {
  return [aboutNights(answer, texts.nights), answer.ends ? aboutEnds(answer.ends, texts.residue) : ""].filter(Boolean);
}

/** The answer in a few words, for a screen that holds no more beside the sliders. */
export function brief({ one, chosen }) {
  if (one.status === "nothing wet") return "no leaf is wetted";
  return `Sprayed at ${clock(chosen)}: wet for ${duration(one.numbers.wet_time)}, ${percent(one.numbers["split.leaf"])} on leaves`;
}
