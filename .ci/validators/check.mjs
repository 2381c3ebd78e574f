// Holds exports against validators of another make. Takes files, says one line for each; exits 1
// if any of them finds an error or a warning.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { basename } from "node:path";
import Ajv from "ajv";
import { check } from "@placemarkio/check-geojson";
import gltf from "gltf-validator";

const require = createRequire(import.meta.url);
const schema = require("geojson-schema/FeatureCollection.json");
const ajv = new Ajv({ strict: false, validateFormats: false });
const fitsSchema = ajv.compile(schema);

async function faultsOfGltf(file) {
  const report = await gltf.validateBytes(new Uint8Array(readFileSync(file)), { maxIssues: 20 });
  const { numErrors, numWarnings, messages } = report.issues;
  const said = messages.filter((m) => m.severity < 2).map((m) => `${m.code} at ${m.pointer}: ${m.message}`);
  return numErrors + numWarnings > 0 ? said : [];
}

function faultsOfGeojson(file) {
  const text = readFileSync(file, "utf8");
  const faults = [];
  if (!fitsSchema(JSON.parse(text))) {
    faults.push(...fitsSchema.errors.slice(0, 5).map((e) => `${e.instancePath}: ${e.message}`));
  }
  try {
    check(text);
  } catch (error) {
    faults.push(...(error.issues ?? [error]).slice(0, 5).map((issue) => issue.message));
  }
  return faults;
}

let failed = false;
for (const file of process.argv.slice(2)) {
  const faults = file.endsWith(".geojson") ? faultsOfGeojson(file) : await faultsOfGltf(file);
  console.log(`${basename(file)}: ${faults.length === 0 ? "good" : faults.join("; ")}`);
  failed ||= faults.length > 0;
}
process.exit(failed ? 1 : 0);
