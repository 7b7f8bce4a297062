// Answers questions about scenarios with the module: node answer.mjs MODULE_FOLDER < questions.json > answers.json
import { readFile } from "node:fs/promises";
import { stdin, argv } from "node:process";
import { pathToFileURL } from "node:url";

const folder = pathToFileURL(argv[2] + "/");
const { load } = await import(new URL("index.js", folder));
const wetspan = await load(await readFile(new URL("core.wasm", folder)));
const questions = JSON.parse(await stdin.toArray().then((chunks) => Buffer.concat(chunks).toString()));

/** What `work` returns, or the name and the message of what it throws. */
function answer(work) {
  try {
    return work();
  } catch (error) {
    return { error: error.name, message: error.message };
  }
}

// JSON has no infinity and no NaN
const plain = (_, value) => (typeof value === "number" && !Number.isFinite(value) ? String(value) : value);
const answers = {
  table: { version: wetspan.version, parameters: wetspan.parameters, outcomes: wetspan.outcomes, sections: wetspan.sections },
  simulated: (questions.simulate ?? []).map((given) => answer(() => wetspan.simulate(wetspan.scenario(given)))),
  ends: (questions.ends ?? []).map((given) => wetspan.residueEnds(wetspan.scenario(given)).map((end) => Array.from(end))),
  read: (questions.read ?? []).map((given) => answer(() => Array.from(wetspan.scenario(given)))),
  written: (questions.write ?? []).map((given) => answer(() => wetspan.toToml(wetspan.scenario(given)))),
};
console.log(JSON.stringify(answers, plain));
