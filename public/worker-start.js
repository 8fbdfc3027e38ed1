// Starts the worker's program, both files from the same build as this one.
const build = new URL(import.meta.url).search;
const { default: start } = await import(`./worker.js${build}`);
await start({ module_or_path: new URL(`./worker_bg.wasm${build}`, import.meta.url) });
