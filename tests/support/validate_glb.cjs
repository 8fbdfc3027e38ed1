// Validates GLB files with the standard's own validator and prints its reports as JSON, one for each path given.
// Run in the folder where gltf-validator is installed.
const { readFileSync } = require("node:fs");
const { createRequire } = require("node:module");
const validator = createRequire(process.cwd() + "/")("gltf-validator");

Promise.all(process.argv.slice(2).map((path) => validator.validateBytes(new Uint8Array(readFileSync(path))))).then(
  (reports) => process.stdout.write(JSON.stringify(reports)),
  (error) => {
    console.error(String(error));
    process.exitCode = 1;
  },
);
