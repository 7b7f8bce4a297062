// The page: sliders in, pictures and sentences out. All computing is the worker's.
import { convert, digits, meant } from "../src/units.js";
import { HOUR } from "./day.js";
import { DAY, GROUPS, WRITTEN } from "./inputs.js";
import { heard, open, QUANTITIES, read, STAMPS } from "./logger.js";
import { dayPicture, historyPicture, splitPicture } from "./pictures.js";
import { aboutHours, brief, clock, fill, graded, percent, sentences } from "./words.js";

const $ = (id) => document.getElementById(id);
const make = (tag, properties = {}, ...children) => {
  const { data, ...rest } = properties;
  const element = Object.assign(document.createElement(tag), rest);
  for (const [name, value] of Object.entries(data ?? {})) element.setAttribute(name, value);
  element.append(...children);
  return element;
};

const start = JSON.parse($("start").textContent);
const { parameters, sections } = JSON.parse($("table").textContent);
const texts = JSON.parse($("texts").textContent);
const rows = new Map(parameters.map((row) => [row.key, row]));
const [FIRST, LAST, EVERY] = [6 * HOUR, 20 * HOUR, HOUR / 2];

const standardDay = () => Object.fromEntries(DAY.map((one) => [one.key, one.standard]));

/** The system of units that a reader chose before, if the browser keeps it. Some browsers refuse to for a file. */
const chosenSystem = {
  get() {
    try {
      return localStorage.getItem("wetspan.units");
    } catch {
      return null;
    }
  },
  set(system) {
    try {
      localStorage.setItem("wetspan.units", system);
    } catch {
      // the choice then holds until the page is closed
    }
  },
};
/** The system to begin with: the one chosen before, that of the scenario's file, or that of the reader's country. */
function firstSystem() {
  const before = chosenSystem.get();
  if (before === "us" || before === "metric") return before;
  return start.units ?? (/^en-US\b/i.test(navigator.language) ? "us" : "metric");
}

/** What is asked: inputs that differ from the defaults in SI, the day in SI, the time of spraying. */
const state = { system: firstSystem(), inputs: { ...start.inputs }, day: standardDay(), record: null, days: [], chosenDay: 0, chosen: 14 * HOUR, title: start.title };
let [answered, ranges] = [null, null];

// --- sliders ---------------------------------------------------------------------------------------------

const scaleOf = (one) => (state.system === "us" && one.us ? { ...one, ...one.us } : one);
const written = (unit) => WRITTEN[unit] ?? unit;
const valueOf = (key) => state.inputs[key] ?? rows.get(key).standard;

/** A slider of a value kept in SI. */
function slider(one, si, get, set) {
  const id = `s-${one.key.replace(".", "-")}`;
  const [told, input] = [make("output", { htmlFor: id }), make("input", { type: "range", id })];
  const box = make("div", { className: "slider" }, make("label", { htmlFor: id }, make("span", { textContent: one.label }), told));
  const ends = (one.ends ?? []).map((words) => make("span", { textContent: words, data: { "aria-hidden": "true" } }));
  box.append(ends.length ? make("div", { className: "ends" }, ends[0], input, ends[1]) : input);
  const show = () => {
    const { unit } = scaleOf(one);
    told.textContent = `${digits(convert(get(), si, unit), 3)} ${written(unit)}`;
    input.setAttribute("aria-valuetext", told.textContent);
  };
  const fit = () => {
    const { unit, low, high, step } = scaleOf(one);
    const value = convert(get(), si, unit);
    // a value beyond the usual stays reachable
    Object.assign(input, { min: Math.min(low, value), max: Math.max(high, value), step: value < low || value > high ? "any" : step, value });
    show();
  };
  input.addEventListener("input", () => {
    set(convert(Number(input.value), scaleOf(one).unit, si));
    show();
    ask();
  });
  fit();
  return { box, fit };
}

const sliders = [];
for (const group of GROUPS) {
  const box = make("fieldset", {}, make("legend", { textContent: group.name }));
  for (const one of group.inputs) {
    const made = slider(one, rows.get(one.key).unit, () => valueOf(one.key), (value) => (state.inputs[one.key] = value));
    made.box.title = rows.get(one.key).meaning;
    sliders.push(made);
    box.append(made.box);
  }
  $("groups").append(box);
}
for (const one of DAY) {
  const made = slider(one, one.si, () => state.day[one.key], (value) => {
    state.day[one.key] = value;
    if (one.key === "coolest" && value > state.day.warmest) state.day.warmest = value;
    if (one.key === "warmest" && value < state.day.coolest) state.day.coolest = value;
    sliders.forEach(({ fit, box }) => box.contains(document.activeElement) || fit());
  });
  made.made = one.made;
  sliders.push(made);
  $("day-sliders").append(made.box);
}

// --- all other inputs, from the table ----------------------------------------------------------------------

function field(row) {
  const id = `f-${row.key.replace(".", "-")}`;
  let input;
  if (row.kind === "choice" || row.kind === "toggle") {
    const names = row.kind === "choice" ? row.choices : ["false", "true"];
    input = make("select", { id }, ...names.map((name, i) => make("option", { value: i, textContent: name })));
  } else {
    input = make("input", { id, type: "number", step: "any", min: convert(row.low, row.unit, row.shown), max: convert(row.high, row.unit, row.shown) });
  }
  const fit = () => (input.value = digits(convert(valueOf(row.key), row.unit, row.shown), 6));
  input.addEventListener("change", () => {
    if (input.value === "") return fit();
    state.inputs[row.key] = convert(Number(input.value), row.shown, row.unit);
    sliders.forEach((one) => one.fit());
    ask();
  });
  const unit = row.shown === "1" ? "" : ` ${written(row.shown)}`;
  sliders.push({ fit, box: input });
  return make("div", { className: "field" }, make("label", { htmlFor: id, textContent: `${row.name.replaceAll("_", " ")} ` }), input, unit, make("span", { textContent: `${row.meaning}. Grade ${graded(row)}: ${row.source}.` }));
}
$("all").addEventListener("toggle", () => {
  if ($("all-inputs").childElementCount) return;
  for (const { name, about } of sections) {
    $("all-inputs").append(make("h3", { textContent: about }), ...parameters.filter((row) => row.section === name).map(field));
  }
  sliders.forEach((one) => one.fit());
});

// --- the worker --------------------------------------------------------------------------------------------

const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
const worker = new Worker(URL.createObjectURL(new Blob([new TextDecoder().decode(bytes($("worker").textContent))], { type: "text/javascript" })));
let [ready, busy, waiting, last] = [false, false, false, 0];

function question() {
  const record = state.record;
  const day = { ...state.day, record };
  let starts = [];
  const origin = state.days[state.chosenDay]?.start ?? 0;
  for (let t = FIRST; t <= LAST; t += EVERY) starts.push(origin + t);
  if (record) starts = starts.filter((t) => t >= record.time[0] && t < record.time.at(-1));
  const chosen = starts.reduce((best, t) => (Math.abs(t - origin - state.chosen) < Math.abs(best - origin - state.chosen) ? t : best));
  return { inputs: state.inputs, day, starts, chosen, asked: performance.now() };
}

/** Asks the worker; while it computes the day, only the newest question waits. */
function ask() {
  if (!ready) return;
  if (busy) {
    waiting = true;
    return;
  }
  busy = true;
  worker.postMessage({ kind: "answer", id: ++last, ...question() });
}

const measured = []; // ms from a question to its pictures
window.page = { measured, get answered() { return answered; }, get ranges() { return ranges; } }; // for tests and for the curious
worker.onmessage = ({ data }) => {
  if (data.kind === "ready") {
    ready = true;
    $("version").textContent = data.version;
    ask();
  } else if (data.kind === "broken") {
    refuse(`This browser cannot run the model: ${data.message}`);
  } else if (data.kind === "answer" || data.kind === "refused") {
    busy = false;
    if (data.kind === "answer") {
      // the last course stays in sight until the new one is there
      [answered, ranges] = [{ ...data, history: answered?.history }, null];
      refuse("");
      draw();
      requestAnimationFrame(() => measured.push(performance.now() - data.asked));
      if (!measured.length) performance.mark("first-answer");
    } else refuse(`${data.message}${hints()}`);
    if (waiting) {
      waiting = false;
      ask();
    }
  } else if (data.kind === "history" && data.id === last) {
    answered.history = data.history;
    drawHistory();
  } else if (data.kind === "ranges" && data.id === last && !waiting) {
    ranges = data;
    draw();
  } else if (data.kind === "file") {
    give("scenario file", data.text);
  }
};
worker.onerror = (event) => refuse(`This browser cannot run the model: ${event.message}`);
worker.postMessage({ wasm: bytes($("wasm").textContent), texts });

/** What was probably meant by inputs that are not allowed, in the unit that the page shows them in. */
function hints() {
  return Object.entries(state.inputs).map(([key, value]) => {
    const row = rows.get(key);
    const outside = row.kind === "number" && (value < row.low || value > row.high);
    return outside ? meant(row, Number(digits(convert(value, row.unit, row.shown), 12)), row.shown) : "";
  }).join("");
}

function refuse(message) {
  $("refusal").hidden = !message;
  $("refusal").textContent = message;
  $("sentences").classList.toggle("stale", Boolean(message));
}

// --- answers ---------------------------------------------------------------------------------------------------

const put = (id, markup) => ($(id).innerHTML = markup);
let timeAt = null;

function draw() {
  if (!answered) return;
  const unit = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const told = sentences(answered, ranges, texts).map((parts) => make("p", {}, ...parts.map(({ text, strong }) => (strong ? make("strong", { textContent: text }) : text))));
  $("sentences").replaceChildren(...told);
  $("brief").textContent = brief(answered);
  const more = aboutHours(answered, texts);
  $("more").hidden = !more.length;
  $("p-more").replaceChildren(...more.map((textContent) => make("p", { textContent })));
  const width = (id) => Math.max(240, $(id).clientWidth);
  const day = dayPicture(answered, ranges, width("p-day"), unit);
  put("p-day", day.markup);
  timeAt = day.timeAt;
  $("n-day").textContent = ranges
    ? `Shaded: 8 of 10 of ${ranges.draws[0]}${ranges.draws[0] < ranges.draws[1] ? ` (of ${ranges.draws[1]}, still computing)` : ""} draws of what is not known. It is shared by all hours, so their order is better known than their level.`
    : "Computing the range of what is not known\u2026";
  if (answered.nights.some(({ past, long }) => past || long)) $("n-day").textContent += ` Dark bar on the axis: ${fill(texts.nights.told.mark, { limit: texts.nights.limit_shown })}.`;
  put("p-split", splitPicture(answered.one.numbers, ranges, width("p-split"), unit));
  drawHistory();
  $("history-at").textContent = clock(answered.chosen);
  if (ranges?.influences) {
    for (const { name, inputs } of ranges.influences) showDoubts($(name === "wet_time" ? "p-doubt-wet" : "p-doubt-leaf"), inputs);
    $("n-doubt").textContent = `From ${ranges.all} draws at ${clock(answered.chosen)}.`;
  } else $("n-doubt").textContent = "Computing\u2026";
  const { starts } = question();
  Object.assign($("chosen"), { min: starts[0], max: starts.at(-1), step: EVERY, value: answered.chosen });
  $("chosen-told").textContent = clock(answered.chosen);
  $("chosen").setAttribute("aria-valuetext", clock(answered.chosen));
  $("title").textContent = state.title;
  const made = !state.record;
  sliders.forEach((one) => one.made !== undefined && (one.box.hidden = !made));
  $("day-note").textContent = made
    ? "A made-up day: the temperature swings as a cosine, coolest at 03:00 and warmest at 15:00; the air keeps the vapour that the coolest air holds; light rises and falls as half a sine from 06:00 to 18:00. This is the air in the house before the spray acts on it."
    : `The air that your logger measured${state.record.shortwave ? "" : ", with the made-up light of half a sine from 06:00 to 18:00, since the file has none"}. Times are the logger's own clock.`;
}

/** The inputs that matter most, each with a bar of its share. */
function showDoubts(list, inputs) {
  const most = Math.max(...inputs.map((one) => one.share));
  const items = inputs.map(({ key, share }) => {
    const row = rows.get(key);
    const bar = make("span", { className: "bar", data: { "aria-hidden": "true" } });
    bar.style.width = `${(82 * share) / most}%`;
    const words = make("span", { className: "what" }, row.meaning, make("small", { textContent: ` ${key}, grade ${graded(row)}` }));
    return make("li", {}, words, bar, make("span", { textContent: percent(share) }));
  });
  list.replaceChildren(...items);
}

function drawHistory() {
  const { one, history } = answered;
  if (one.status === "nothing wet") return put("p-history", "");
  if (!history) return;
  const unit = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const fahrenheit = { name: "\u00b0F", from: (x) => convert(x, "K", "degF") };
  const celsius = { name: "\u00b0C", from: (x) => convert(x, "K", "degC") };
  const width = Math.max(240, $("p-history").clientWidth);
  put("p-history", historyPicture(one, history, width, unit, state.system === "us" ? fahrenheit : celsius));
}

const choose = (time) => {
  state.chosen = (Math.round(time / EVERY) * EVERY) % (24 * HOUR);
  ask();
};
$("chosen").addEventListener("input", () => choose(Number($("chosen").value)));
$("p-day").addEventListener("click", (event) => timeAt && choose(timeAt(event.clientX - $("p-day").getBoundingClientRect().left)));
for (const one of document.querySelectorAll("input[name=system]")) {
  one.checked = one.value === state.system;
  one.addEventListener("change", () => {
    state.system = one.value;
    chosenSystem.set(state.system);
    sliders.forEach(({ fit }) => fit());
    draw();
  });
}
let seen = 0;
new ResizeObserver(() => {
  if (seen !== innerWidth) draw(); // heights change with what is drawn; only the width asks for new pictures
  seen = innerWidth;
}).observe(document.body);
addEventListener("beforeprint", draw);
matchMedia("print").addEventListener("change", draw);

// --- the logger's file -------------------------------------------------------------------------------------------

function refuseFile(error) {
  $("file-refusal").hidden = !error;
  $("file-refusal").textContent = error?.message ?? "";
}

async function take(file) {
  refuseFile(null);
  try {
    const opened = open(await file.text(), file.name);
    const choice = heard(opened, texts.headings);
    offer(opened, choice);
    use(opened, choice);
  } catch (error) {
    refuseFile(error);
  }
}

/** Reads the record with what is chosen; what is still to be said is asked for in one line. */
function use(file, choice) {
  try {
    const { record, days } = read(file, choice);
    Object.assign(state, { record, days, chosenDay: Math.min(state.chosenDay, days.length - 1) });
    refuseFile(null);
    ask();
  } catch (error) {
    refuseFile(error);
  }
  const days = $("file-day");
  if (days && state.record) days.replaceChildren(...state.days.map((day, i) => make("option", { value: i, textContent: day.name, selected: i === state.chosenDay })));
}

/** Shows what was found in the file, to be put right where it is wrong. */
function offer(file, choice) {
  const line = (words, options, chosen, set) => {
    const list = make("select", {}, ...options.map(([value, told]) => make("option", { value, textContent: told, selected: value === (chosen ?? "") })));
    list.addEventListener("change", () => {
      set(list.value);
      use(file, choice);
    });
    return make("label", {}, words, list);
  };
  const columns = file.headings.map((heading, i) => [String(i), heading]);
  const lines = [
    line("time", columns, String(choice.columns.time), (value) => (choice.columns.time = Number(value))),
    line("dates", [["", "choose"], ...Object.keys(STAMPS).map((way) => [way, way])], choice.stamp, (value) => (choice.stamp = value)),
  ];
  for (const [key, quantity] of Object.entries(QUANTITIES)) {
    const column = choice.columns[key] === undefined ? "" : String(choice.columns[key]);
    lines.push(line(quantity.name, [["", quantity.optional ? "none" : "choose"], ...columns], column, (value) => (choice.columns[key] = value === "" ? undefined : Number(value))));
    lines.push(line("in", [["", "choose"], ...Object.keys(quantity.units).map((unit) => [unit, written(unit)])], choice.units[key], (value) => (choice.units[key] = value)));
  }
  const days = make("select", { id: "file-day" });
  days.addEventListener("change", () => {
    state.chosenDay = Number(days.value);
    ask();
  });
  const back = make("button", { type: "button", textContent: "Back to the made-up day" });
  back.addEventListener("click", () => {
    Object.assign(state, { record: null, days: [], chosenDay: 0 });
    $("file-choices").hidden = true;
    $("logger").value = "";
    refuseFile(null);
    ask();
  });
  $("file-choices").replaceChildren(make("p", { className: "note", textContent: `${file.name}, ${file.rows.length} lines` }), ...lines, make("label", {}, "day", days), back);
  $("file-choices").hidden = false;
}

$("logger").addEventListener("change", () => $("logger").files.length && take($("logger").files[0]));
addEventListener("dragover", (event) => (event.preventDefault(), $("drop").classList.add("over")));
addEventListener("dragleave", () => $("drop").classList.remove("over"));
addEventListener("drop", (event) => {
  event.preventDefault();
  $("drop").classList.remove("over");
  if (event.dataTransfer.files.length) take(event.dataTransfer.files[0]);
});

// --- keeping it -----------------------------------------------------------------------------------------------------

/** Puts a text on the clipboard, and in sight where that is not allowed. */
async function give(what, text) {
  $("file-text").value = text;
  $("file-text").hidden = false;
  try {
    await navigator.clipboard.writeText(text);
    $("copied").textContent = `The ${what} is on the clipboard, and below.`;
  } catch {
    $("file-text").select();
    $("copied").textContent = `The ${what} is below, selected: copy it from there.`;
  }
}

/** The scenario, with the air at the time of spraying for use without a weather record. */
$("copy").addEventListener("click", () => {
  if (!answered) return;
  const { air, sprays, chosen } = answered;
  const at = sprays.findIndex((spray) => spray.start === chosen);
  const now = { "air.temperature": air.temperature[at], "air.relative_humidity": air.relative_humidity[at], "air.shortwave": air.shortwave[at] };
  const units = state.system === "us" ? { "air.temperature": "degF" } : {};
  for (const one of GROUPS.flatMap((group) => group.inputs)) if (state.system === "us" && one.us) units[one.key] = one.us.unit;
  for (const key of Object.keys(now)) {
    const { low, high, unit, shown } = rows.get(key);
    const told = units[key] ?? shown; // rounded in the unit in which it is written
    now[key] = Math.min(high, Math.max(low, convert(Number(digits(convert(now[key], unit, told), 3)), told, unit)));
  }
  worker.postMessage({ kind: "file", inputs: { ...state.inputs, ...now }, title: state.title || `from the page, air of ${clock(chosen)}`, units });
});
$("copy-day").addEventListener("click", () => {
  if (!answered) return;
  const { weather } = answered;
  const stamp = (t) => new Date(Date.UTC(2026, 4, 16) + 1000 * t).toISOString().slice(0, 19);
  const lines = weather.time.map((t, i) => [stamp(t), weather.temperature[i], weather.relative_humidity[i], weather.shortwave[i], weather.wind_speed[i], weather.pressure[i]].join(","));
  give("day", ["time,temperature K,relative humidity 1,shortwave W/m^2,wind speed m/s,pressure Pa", ...lines].join("\n") + "\n");
});
$("print").addEventListener("click", () => print());
function reset() {
  Object.assign(state, { inputs: { ...start.inputs }, day: standardDay(), chosen: 14 * HOUR });
  sliders.forEach((one) => one.fit());
  ask();
}
$("reset").addEventListener("click", reset);
