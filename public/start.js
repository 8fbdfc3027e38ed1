// Starts the page's program; its file names stand in this script's address.
const asked = new URL(import.meta.url).searchParams;
const named = (name) => new URL(asked.get(name), import.meta.url).href;

try {
  const { default: start } = await import(named("js"));
  await start({ module_or_path: named("wasm") });
} catch (error) {
  document.querySelector(".opening")?.remove();
  const notice = document.createElement("p");
  notice.setAttribute("role", "alert");
  notice.textContent =
    "Scrieve Board could not start. Load the page again; if that does not help, use a newer browser.";
  document.body.append(notice);
  throw error;
}
