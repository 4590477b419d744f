// node page_test.mjs BAGSPLIT.html COMMAND CHROMIUM [AXE] [KILLS]: the page in a browser, typed into as a hand would.
// Computed: the native command of this tree on what was typed. Source: axe-core's rules of WCAG 2.1 A and AA.
import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "./browser.mjs";

const [pageFile, commandFile, chromium, axeFile = "", kills = "6"] = process.argv.slice(2);
const address = pathToFileURL(resolve(pageFile)).href;
const work = mkdtempSync(join(tmpdir(), "bagsplit-page-"));
const command = (...words) => spawnSync(resolve(commandFile), words, { cwd: work, encoding: "utf8", maxBuffer: 1 << 28, env: { ...process.env, LC_ALL: "C" } });
let wrong = 0;

async function check(name, body) {
  const started = Date.now();
  try {
    const note = await body();
    console.log(`ok     ${name}${note ? ": " + note : ""} (${((Date.now() - started) / 1000).toFixed(1)} s)`);
  } catch (error) {
    ++wrong;
    console.log(`FAILED ${name}: ${error.message}`);
  }
}
function expect(condition, words) {
  if (!condition) throw new Error(words);
}

const key = (cell) => `#grid [data-key="${cell}"]`;
const keptNow = "document.getElementById('kept').textContent.startsWith('kept')";
// A form in which only numbers are left of a page, so that both sides are read alike.
const inFrame = "document.getElementById('answer').contentDocument";

// README's five lines; the grid knows which run of a child was which, so the trials are typed here.
const five = `# base-distance: 60 ft
date,player,course,trial,timer,first,second,third,home
2026-04-11,12,circuit,1,AK,4.05,8.02,12.10,16.31
2026-04-11,7,circuit,1,AK,3.92,7.75,11.80,15.70
2026-04-11,12,circuit,2,AK,4.11,8.15,12.22,16.36
`;

function sameNumbers(a, b, path = "") {
  if (typeof a === "number" && typeof b === "number") {
    expect(Math.abs(a - b) <= 1e-6 * Math.max(1, Math.abs(b)), `${path}: ${a} and ${b}`);
  } else if (a !== null && typeof a === "object" && b !== null && typeof b === "object") {
    for (const name of new Set([...Object.keys(a), ...Object.keys(b)])) sameNumbers(a[name], b[name], path + "/" + name);
  } else {
    expect(a === b, `${path}: ${a} and ${b}`);
  }
}

// The five lines of README, by keys alone from the first cell on.
async function typeFive(browser) {
  await browser.look("document.querySelector('[data-setting=\"date\"]').value = '2026-04-11'; document.querySelector('[data-setting=\"date\"]').dispatchEvent(new Event('change', { bubbles: true }))");
  await browser.fill('[data-setting="timer"]', "AK");
  await browser.press("Tab");
  await browser.click("#more-runs");
  await browser.click(key("player/0/0/0"));
  for (const line of [["12", "4.05", "8,02", "12.10", "16.31"], ["7", "3.92", "7.75", "11.80", "15.70"]]) {
    for (const text of line) {
      await browser.type(text);
      await browser.press("Tab");
    }
    await browser.press("Enter");
  }
  await browser.click(key("t:first/0/2/0"));
  for (const text of ["4.11", "8.15", "12.22", "16.36"]) {
    await browser.type(text);
    await browser.press("Tab");
  }
  await browser.until(keptNow);
}

async function downloadOf(browser, selector, ending) {
  await browser.send("Browser.setDownloadBehavior", { behavior: "allow", downloadPath: work }, undefined);
  const before = new Set(readdirSync(work));
  await browser.click(selector);
  for (let k = 0; k < 400; ++k) {
    const made = readdirSync(work).find((name) => !before.has(name) && name.endsWith(ending));
    if (made && statSync(join(work, made)).size > 0) return made;
    await new Promise((done) => setTimeout(done, 25));
  }
  throw new Error("nothing was saved");
}

const browser = await Browser.start(chromium);

await check("one file below 8 MB that names no address but those of XML", () => {
  const text = readFileSync(pageFile, "utf8");
  const addresses = text.match(/https?:\/\/[^\s"'<>)\\]+/g) ?? [];
  const others = addresses.filter((one) => !one.startsWith("http://www.w3.org/"));
  expect(others.length === 0, "it names " + others.join(", "));
  expect(text.includes("connect-src 'none'") && text.includes("default-src 'none'"), "its rule lets something through");
  expect(statSync(pageFile).size < 8e6, "it is too large");
  return (statSync(pageFile).size / 1e6).toFixed(2) + " MB";
});

await check("it starts", () => browser.open(address));

await check("five lines typed give the command's numbers", async () => {
  await typeFive(browser);
  const saved = await downloadOf(browser, "#save-log", ".csv");
  writeFileSync(join(work, "five.csv"), five);
  const read = (name) => {
    const { players } = JSON.parse(command("profile", name, "--format", "json").stdout);
    return players;
  };
  sameNumbers(read(saved), read("five.csv"));
  await browser.click("#show");
  await browser.until(`${inFrame}?.querySelector('h1')`);
  // What the page shows of them, against the page the command makes of README's own lines.
  writeFileSync(join(work, "native.html"), command("report", "five.csv").stdout);
  const shown = await browser.look(`${inFrame}.body.textContent`);
  await browser.look(`document.getElementById('answer').srcdoc = ${JSON.stringify(readFileSync(join(work, "native.html"), "utf8"))}`);
  await new Promise((done) => setTimeout(done, 500));
  const native = await browser.look(`${inFrame}.body.textContent`);
  const numbers = (text) => text.match(/\d+\.\d+/g);
  expect(numbers(shown).length > 20, "hardly a number is shown");
  expect(numbers(shown).join(" ") === numbers(native).join(" "), "the numbers shown are not the command's");
  return numbers(shown).length + " numbers shown";
});

await check("a slip is told beside its cell, in the command's words", async () => {
  await browser.fill(key("t:second/1/1/0"), "8.o2");
  await browser.until("document.querySelector('#grid tr.talk')");
  const { text, marked } = await browser.look(`({ text: document.querySelector('#grid tr.talk').innerText,
    marked: document.querySelector('${key("t:second/1/1/0").replaceAll("'", "\\'")}').getAttribute('aria-invalid') })`);
  writeFileSync(join(work, "slip.csv"), five.replace("7.75", "8.o2"));
  const [problem] = JSON.parse(command("check", "slip.csv", "--format", "json").stdout).problems;
  for (const words of [problem.message, problem.read, problem.expected, problem.hint.slice(1)]) expect(text.includes(words), `no "${words}" in "${text}"`);
  expect(marked === "true", "the cell is not marked");
  await browser.fill(key("t:second/1/1/0"), "7.75");
  await browser.until("!document.querySelector('#grid tr.talk')");
});

await check("Enter goes down to where the line began; paste fills cells", async () => {
  await browser.click(key("t:first/2/1/0"));
  await browser.type("4.2");
  await browser.press("Tab");
  await browser.type("8.3");
  await browser.press("Enter");
  expect(await browser.look("document.activeElement.dataset.key") === "t:first/3/1/0", "it went to " + await browser.look("document.activeElement.dataset.key"));
  await browser.click(key("player/2/0/0"));
  await browser.look(`(() => { const data = new DataTransfer(); data.setData("text/plain", "21\\t4,31\\t8,40\\n22\\t4,41\\t8,50\\n");
    document.activeElement.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true })); })()`);
  expect(await browser.look(`document.querySelector('${key("t:second/3/1/0")}').value`) === "8,50", "the paste did not land");
  await browser.until(keptNow);
});

for (const [name, scheme] of [["light", "light"], ["dark", "dark"]]) {
  if (axeFile && existsSync(axeFile)) {
    await check("nothing serious for axe, " + name, async () => {
      await browser.scheme(scheme);
      await browser.fill(key("t:second/1/1/0"), "8.o2");
      await browser.until("document.querySelector('#grid tr.talk')");
      await browser.look(readFileSync(axeFile, "utf8") + "; 1");
      const { found, passes } = await browser.look(`axe.run({ iframes: false }).then((r) => ({ passes: r.passes.length, found: r.violations.filter((v) =>
        v.impact === "serious" || v.impact === "critical").map((v) => v.id + " at " + v.nodes.slice(0, 3).map((n) => n.target).join(", ")) }))`);
      expect(found.length === 0 && passes > 10, found.join("; "));
      return passes + " rules";
    });
  }
}

await check("the invented season, all its pages", async () => {
  await browser.fill(key("t:second/1/1/0"), "7.75");
  await browser.click("#demo");
  await browser.until("document.getElementById('file-says').innerText.includes('runs of')", 60);
  const told = [];
  for (const kind of ["squad", "weeks", "child", "day", "relay", "each"]) {
    await browser.choose("#kind", kind);
    if (kind === "child") await browser.choose("#child", "12");
    if (kind === "day") await browser.fill("#cut", "6");
    await browser.look("document.getElementById('answer').srcdoc = ''; document.getElementById('see-says').textContent = ''");
    const started = Date.now();
    await browser.click("#show");
    await browser.until("/^(Here|No page|One date)/.test(document.getElementById('see-says').textContent)", 120);
    const seconds = (Date.now() - started) / 1000;
    const said = await browser.look("document.getElementById('see-says').textContent");
    expect(said.startsWith("Here it is"), kind + ": " + said);
    // Of our own: nobody waits longer. On a quiet machine of two cores it is a tenth of that.
    expect(seconds < 60, `${kind} took ${seconds} s`);
    told.push(`${kind} ${seconds.toFixed(1)} s`);
    await browser.until(`${inFrame}?.querySelector('h1')`);
  }
  return told.join(", ");
});

await check("no wider than its window from a phone to a large screen", async () => {
  for (const width of [390, 1024, 1920]) {
    await browser.size(width, 900);
    const { page, window } = await browser.look("({ page: document.documentElement.scrollWidth, window: innerWidth })");
    expect(window === width && page <= width, `${page} px in ${width}`);
  }
  await browser.size(1280, 900);
});

await check("nothing asked of a network, no word on the console", () => {
  const asked = browser.requests.filter((one) => !one.startsWith("file:") && !one.startsWith("blob:") && !one.startsWith("data:") && !one.startsWith("about:"));
  expect(asked.length === 0, asked.join(", "));
  expect(browser.requests.filter((one) => one.startsWith("file:")).every((one) => one.split("#")[0] === address), "another file was read");
  expect(browser.words.length === 0, browser.words.join("; "));
});

await check("what was forgotten is gone", async () => {
  await browser.click("#forget");
  await browser.until("document.getElementById('keep-says').textContent.startsWith('Everything is forgotten')");
  await browser.open(address);
  const left = await browser.look("[...document.querySelectorAll('#grid [data-key]')].filter((one) => one.value).length");
  expect(left === 0, left + " cells are still there");
});

await check("where nothing can be kept it says so and offers the run log", async () => {
  // As a browser does whose owner forbids pages to keep anything.
  await browser.send("Page.addScriptToEvaluateOnNewDocument",
    { source: "Object.defineProperty(globalThis, 'indexedDB', { get() { throw new DOMException('forbidden', 'SecurityError'); } })" });
  await browser.open(address);
  await browser.fill(key("player/0/0/0"), "12");
  await browser.until("document.getElementById('kept').textContent.startsWith('NOT kept')");
  expect(await browser.look("!document.getElementById('save-now').hidden"), "no way out is offered");
  expect(await browser.look("document.getElementById('storage').className === 'bad'"), "it is not said under Keep");
});
await browser.end();

await check(`nothing said to be kept is lost over ${kills} kills of the browser`, async () => {
  const profile = mkdtempSync(join(tmpdir(), "bagsplit-profile-"));
  const safe = new Map();
  let typed = 0;
  for (let round = 0; round <= Number(kills); ++round) {
    const one = await Browser.start(chromium, { profile });
    await one.open(address);
    const there = new Map(await one.look("[...document.querySelectorAll('#grid [data-key]')].filter((i) => i.value).map((i) => [i.dataset.key, i.value])"));
    for (const [cell, text] of safe) expect(there.get(cell) === text, `${cell} was "${text}", now "${there.get(cell)}" after ${round} kills`);
    if (round < Number(kills)) {
      const lastRow = key(`t:first/${Math.floor((typed + 19) / 4)}/1/0`);
      while (await one.look(`!document.querySelector('${lastRow}')`)) await one.click("#more-players");
      const cells = [];
      for (let k = 0; k < 20; ++k, ++typed) {
        const row = Math.floor(typed / 4);
        cells.push([`t:${["first", "second", "third", "home"][typed % 4]}/${row}/1/0`, (4 + typed / 100).toFixed(2)]);
      }
      await one.click(key(cells[0][0]));
      for (const [cell, text] of cells) {
        await one.type(text);
        await one.press("Tab");
        if (cell.startsWith("t:home")) await one.press("Enter");
      }
      // A moment that differs from round to round, as early as none of them kept.
      await new Promise((done) => setTimeout(done, (37 * round) % 90));
      for (const [cell, text] of await one.look("[...document.querySelectorAll('#grid [data-kept=\"yes\"]')].filter((i) => i.value).map((i) => [i.dataset.key, i.value])")) safe.set(cell, text);
    }
    await one.kill();
  }
  rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
  expect(safe.size > 10 * Number(kills), "hardly a cell was kept in time: " + safe.size);
  return `${typed} cells typed, ${safe.size} said to be kept`;
});

rmSync(work, { recursive: true, force: true });
process.exit(wrong ? 1 : 0);
