// Pictures as SVG text, drawn at the width they are shown at so that their letters keep their size.
// Series differ by form as well as by colour: full, dashed, dotted; every line is named where it runs.
import { clock, duration, percent, shares, TARGETS } from "./words.js";

const escape = (text) => String(text).replace(/[&<>"]/g, (letter) => `&#${letter.charCodeAt(0)};`);
const n = (value) => value.toFixed(1);

/** Round steps that divide a span into about `count`. */
function steps(top, count, allowed = [1, 2, 5]) {
  const rough = top / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [...allowed, 10].map((one) => one * power).find((one) => one >= rough);
  return Array.from({ length: Math.floor(top / step + 1e-9) + 1 }, (_, i) => i * step);
}

const MINUTES = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440];
function minuteSteps(top, count) {
  const step = MINUTES.find((one) => one >= top / count) ?? 1440;
  return Array.from({ length: Math.floor(top / step + 1e-9) + 1 }, (_, i) => i * step);
}
const minuteLabel = (minutes) => (minutes >= 120 && minutes % 60 === 0 ? `${minutes / 60} h` : `${minutes} min`);

const label = (x, y, text, extra = "") => `<text x="${n(x)}" y="${n(y)}" ${extra}>${escape(text)}</text>`;
const path = (points) => points.map(([x, y], i) => `${i ? "L" : "M"}${n(x)} ${n(y)}`).join("");
const svg = (width, height, title, inside) =>
  `<svg viewBox="0 0 ${n(width)} ${n(height)}" width="${n(width)}" height="${n(height)}" role="img" aria-label="${escape(title)}">${inside}</svg>`;

/** Wet time by the hour of spraying, with its range and the chosen time. */
export function dayPicture({ sprays, nights, chosen }, ranges, width, unit) {
  const [left, right, top, bottom] = [4.2 * unit, 1.9 * unit, 1.2 * unit, 2.6 * unit];
  const height = Math.max(15 * unit, Math.min(0.42 * width, 21 * unit));
  const wet = sprays.map((spray) => spray.numbers.wet_time / 60);
  const finite = [...wet, ...(ranges?.wet.map(([, , high]) => high / 60) ?? [])].filter(Number.isFinite);
  const most = Math.max(5, ...wet.filter(Number.isFinite), Math.min(Math.max(0, ...finite), 2.2 * Math.max(1, ...wet.filter(Number.isFinite))));
  const ticks = minuteSteps(most * 1.04, 5);
  const roof = Math.max(most * 1.04, ticks.at(-1));
  const [from, to] = [sprays[0].start, sprays.at(-1).start];
  const x = (start) => left + ((start - from) / Math.max(1, to - from)) * (width - left - right);
  const y = (minutes) => height - bottom - (Math.min(minutes, roof) / roof) * (height - top - bottom);
  const parts = ticks.map((tick) => `<line class="grid" x1="${n(left)}" x2="${n(width - right)}" y1="${n(y(tick))}" y2="${n(y(tick))}"/>` + label(left - 0.5 * unit, y(tick) + 0.35 * unit, minuteLabel(tick), 'class="end"'));
  const every = ((to - from) / 3600) * 2 > width / unit ? 4 : 2;
  sprays.filter(({ start }) => start % (every * 3600) === 0).forEach(({ start }) => parts.push(label(x(start), height - bottom + 1.4 * unit, clock(start), 'class="middle"')));
  parts.push(label((left + width - right) / 2, height - 0.25 * unit, "time of spraying", 'class="middle quiet"'));
  if (ranges) {
    const band = ranges.hours.map((start, i) => [x(start), ranges.wet[i]]);
    const up = band.map(([at, [, , high]]) => [at, y(high / 60)]);
    const down = band.map(([at, [low]]) => [at, y(low / 60)]).reverse();
    parts.push(`<path class="band" d="${path([...up, ...down])}Z"/>`);
    if (ranges.wet.some(([, , high]) => high / 60 > roof)) parts.push(label(width - right, top - 0.2 * unit, "the range goes on above", 'class="end quiet"'));
  }
  parts.push(`<path class="line" d="${path(sprays.map((spray, i) => [x(spray.start), y(wet[i])]))}"/>`);
  sprays.forEach((spray, i) => Number.isFinite(wet[i]) || parts.push(label(x(spray.start), y(roof) + unit, "\u2191", 'class="middle strong"')));
  const wetNights = nights.map(({ past, long }) => past || long);
  if (wetNights.some(Boolean)) {
    const half = (x(sprays.at(-1).start) - x(sprays[0].start)) / Math.max(1, sprays.length - 1) / 2;
    const [base, tall] = [height - bottom, 0.4 * unit];
    sprays.forEach(({ start }, i) => {
      const [low, high] = [Math.max(left, x(start) - half), Math.min(width - right, x(start) + half)];
      if (wetNights[i]) parts.push(`<rect class="night" x="${n(low)}" y="${n(base - tall)}" width="${n(high - low)}" height="${n(tall)}"/>`);
    });
  }
  const here = sprays.find((spray) => spray.start === chosen);
  if (here) {
    const [at, high] = [x(chosen), y(here.numbers.wet_time / 60)];
    const side = at > width / 2 ? "end" : "start";
    parts.push(`<line class="chosen" x1="${n(at)}" x2="${n(at)}" y1="${n(top)}" y2="${n(height - bottom)}"/>`);
    parts.push(`<circle class="chosen-dot" cx="${n(at)}" cy="${n(high)}" r="${n(0.45 * unit)}"/>`);
    parts.push(label(at + (side === "end" ? -0.7 : 0.7) * unit, Math.max(top + unit, high - 0.9 * unit), duration(here.numbers.wet_time), `class="${side} strong halo"`));
  }
  const told = sprays.filter((_, i) => i % 4 === 0).map((spray) => `${clock(spray.start)} ${duration(spray.numbers.wet_time)}`).join(", ");
  return { markup: svg(width, height, `Wet time by the hour of spraying: ${told}`, parts.join("")), timeAt: (px) => from + ((px - left) / (width - left - right)) * (to - from) };
}

/** The spray on its way down: stripes of the stream in proportion, each leaving where it ends. */
export function splitPicture(numbers, ranges, width, unit) {
  const full = Math.min(0.3 * width, 9 * unit);
  const [edge, top] = [0.4 * unit, 2 * unit];
  const out = edge + full + Math.min(3.2 * unit, 0.09 * width);
  const words = out + 1.2 * unit;
  const parts = [label(edge + full / 2, 1.3 * unit, "nozzle", 'class="middle quiet"')];
  let left = 1;
  let y = top + 0.8 * unit;
  TARGETS.forEach(({ name, label: told }, i) => {
    const share = Math.max(0, numbers[name]);
    const [before, after] = [edge + left * full, edge + Math.max(0, left - share) * full];
    left = Math.max(0, left - share);
    const thick = before - after;
    const row = Math.max(thick, 2.3 * unit);
    const [yt, yb] = [y + (row - thick) / 2, y + (row + thick) / 2];
    const r = 0.5 * unit; // inner bend; the outer one is wider by the stripe
    if (thick > 0.2) {
      parts.push(
        `<path class="stream s${i}" d="M${n(after)} ${n(top)}H${n(before)}V${n(yt - r)}Q${n(before)} ${n(yt)} ${n(before + r)} ${n(yt)}` +
          `H${n(out)}L${n(out + Math.min(0.7 * unit, thick))} ${n((yt + yb) / 2)}L${n(out)} ${n(yb)}H${n(after + r + thick)}Q${n(after)} ${n(yb)} ${n(after)} ${n(yb - r - thick)}Z"/>`,
      );
    }
    const range = ranges?.split[name];
    const at = y + row / 2;
    parts.push(label(words, at + (range ? -0.15 : 0.35) * unit, `${percent(numbers[name])} ${told}`, 'class="start strong"'));
    if (range) parts.push(label(words, at + 0.95 * unit, `range ${shares(range[0], range[2])}`, 'class="start quiet small"'));
    y += row + 0.7 * unit;
  });
  const told = TARGETS.map(({ name, label: one }) => `${percent(numbers[name])} ${one}`).join(", ");
  return svg(width, y, `From nozzle to pot: ${told}`, parts.join(""));
}

/** One spray: liquid left on leaves and stems, and the temperatures of leaf and air, over the minutes after it. */
export function historyPicture(one, course, width, unit, temperature) {
  const { wet_time: wet, stem_wet_time: stem } = one.numbers;
  const seconds = Array.from(course.time);
  const ends = [wet, stem].filter(Number.isFinite);
  const span = Math.max(60, Math.min(seconds.at(-1), ends.length ? 1.15 * Math.max(...ends) : seconds.at(-1)));
  const shown = seconds.flatMap((time, i) => (time <= span * 1.001 || (i && seconds[i - 1] < span) ? [i] : []));
  const [left, right] = [3.8 * unit, Math.min(6.5 * unit, 0.2 * width)];
  const [upper, lower, gap] = [11 * unit, 8 * unit, 2.2 * unit];
  const height = 1.6 * unit + upper + gap + lower + 2.8 * unit;
  const x = (time) => left + (Math.min(time, span) / span) * (width - left - right);
  const parts = [];
  const panel = (top, tall, low, high, ticks, write, title, series) => {
    const y = (value) => top + tall - ((value - low) / (high - low)) * tall;
    parts.push(label(left, top - 0.5 * unit, title, 'class="start quiet"'));
    for (const tick of ticks) parts.push(`<line class="grid" x1="${n(left)}" x2="${n(width - right)}" y1="${n(y(tick))}" y2="${n(y(tick))}"/>` + label(left - 0.5 * unit, y(tick) + 0.35 * unit, write(tick), 'class="end"'));
    const names = series.map(({ values, name, form }) => {
      parts.push(`<path class="line ${form}" d="${path(shown.map((i) => [x(seconds[i]), y(values[i])]))}"/>`);
      return { at: y(values[shown.at(-1)]) + 0.35 * unit, name, form };
    });
    names.sort((a, b) => a.at - b.at);
    names.forEach((one_, i) => i && (one_.at = Math.max(one_.at, names[i - 1].at + 1.15 * unit)));
    names.forEach(({ at, name, form }) => parts.push(label(width - right + 0.4 * unit, at, name, `class="start name ${form}"`)));
  };
  const top = 1.6 * unit;
  panel(top, upper, 0, 1, [0, 0.5, 1], (tick) => `${100 * tick} %`, "of the liquid that landed, still there", [
    { values: course.leaf_water.map((v) => Math.max(0, Math.min(1, v / Math.max(1e-12, course.leaf_water[0])))), name: "leaves", form: "a" },
    { values: course.stem_water.map((v) => Math.max(0, Math.min(1, course.stem_water[0] > 0 ? v / course.stem_water[0] : 0))), name: "stems", form: "b" },
  ]);
  const [leaf, air] = [course.leaf_temperature, course.air_temperature].map((column) => Array.from(column, temperature.from));
  const seen = shown.flatMap((i) => [leaf[i], air[i]]);
  const pad = 0.5;
  const [low, high] = [Math.floor(Math.min(...seen) - pad), Math.ceil(Math.max(...seen) + pad)];
  const ticks = steps(high - low, 5).map((tick) => low + tick);
  panel(top + upper + gap, lower, low, high, ticks, (tick) => `${tick}`, `temperature, ${temperature.name}`, [
    { values: leaf, name: "leaf", form: "a" },
    { values: air, name: "air", form: "c" },
  ]);
  const base = height - 2.8 * unit;
  for (const tick of minuteSteps(span / 60, Math.max(3, width / unit / 7))) parts.push(label(x(60 * tick), base + 1.3 * unit, minuteLabel(tick), 'class="middle"'));
  parts.push(label((left + width - right) / 2, height - 0.3 * unit, "after the spray", 'class="middle quiet"'));
  const dry = Number.isFinite(wet) ? `leaves dry after ${duration(wet)}` : "leaves do not dry within the time followed";
  return svg(width, height, `One spray: ${dry}`, parts.join(""));
}
