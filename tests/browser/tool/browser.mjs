// A browser driven over its own protocol, by a pipe: hands on a real keyboard, nothing of the page called by name.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export class Browser {
  /// @param profile  folder of the browser's storage; none: one of its own, taken away at the end
  static async start(program, { profile, width = 1280, height = 900 } = {}) {
    const browser = new Browser();
    browser.ownFolder = profile ? null : mkdtempSync(join(tmpdir(), "bagsplit-browser-"));
    browser.process = spawn(program, ["--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--disable-extensions", "--hide-scrollbars",
      "--allow-file-access-from-files", "--remote-debugging-pipe", `--window-size=${width},${height}`,
      `--user-data-dir=${profile ?? browser.ownFolder}`, "about:blank"],
      { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"], detached: true });
    browser.number = 0;
    browser.waiting = new Map();
    browser.requests = [];
    browser.words = [];
    let rest = "";
    browser.process.stdio[4].on("data", (chunk) => {
      const parts = (rest + chunk).split("\0");
      rest = parts.pop();
      for (const part of parts) browser.heard(JSON.parse(part));
    });
    browser.process.stdio[3].on("error", () => {});
    browser.process.stdio[4].on("error", () => {});
    const { targetInfos } = await browser.send("Target.getTargets");
    const page = targetInfos.find((one) => one.type === "page");
    ({ sessionId: browser.session } = await browser.send("Target.attachToTarget", { targetId: page.targetId, flatten: true }));
    for (const domain of ["Page", "Runtime", "Network", "Log"]) await browser.send(domain + ".enable");
    await browser.send("Target.setAutoAttach", { autoAttach: true, waitForDebuggerOnStart: false, flatten: true });
    await browser.size(width, height);
    return browser;
  }

  heard(message) {
    if (message.id !== undefined) {
      const { resolve, reject } = this.waiting.get(message.id) ?? {};
      this.waiting.delete(message.id);
      if (message.error) reject?.(new Error(message.error.message));
      else resolve?.(message.result);
    } else if (message.method === "Network.requestWillBeSent") {
      this.requests.push(message.params.request.url);
    } else if (message.method === "Runtime.consoleAPICalled" || message.method === "Log.entryAdded" || message.method === "Runtime.exceptionThrown") {
      this.words.push(JSON.stringify(message.params).slice(0, 600));
    } else if (message.method === "Page.javascriptDialogOpening") {
      this.send("Page.handleJavaScriptDialog", { accept: true });
    } else if (message.method === "Target.attachedToTarget" && this.session) {
      for (const domain of ["Runtime", "Network"]) this.send(domain + ".enable", {}, message.params.sessionId).catch(() => {});
    }
  }

  send(method, params = {}, session = this.session) {
    const id = ++this.number;
    return new Promise((resolve, reject) => {
      this.waiting.set(id, { resolve, reject });
      this.process.stdio[3].write(JSON.stringify({ id, method, params, sessionId: session }) + "\0");
    });
  }

  async size(width, height, mobile = false) {
    await this.send("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile });
  }
  async scheme(value) {
    await this.send("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value }] });
  }
  async open(address) {
    await this.send("Page.navigate", { url: address });
    await this.until("document.documentElement?.dataset.ready === 'yes'", 60);
  }
  async look(expression) {
    const { result, exceptionDetails } = await this.send("Runtime.evaluate", { expression, returnByValue: true, awaitPromise: true });
    if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
    return result.value;
  }
  async until(expression, seconds = 30) {
    const end = Date.now() + 1000 * seconds;
    for (;;) {
      try {
        if (await this.look(expression)) return;
      } catch (error) {
        if (!/context|navigat/i.test(error.message)) throw error;
      }
      if (Date.now() > end) throw new Error("waited in vain for: " + expression + "; the page says: " + (await this.look("document.getElementById('state')?.textContent")));
      await new Promise((resolve) => setTimeout(resolve, 25));
    }
  }

  /// A click in the middle of what the selector names.
  async click(selector) {
    const at = await this.look(`(() => { const e = document.querySelector(${JSON.stringify(selector)}); e.scrollIntoView({ block: "center", behavior: "instant" });
      const r = e.getBoundingClientRect(); return { x: r.x + r.width / 2, y: r.y + r.height / 2 }; })()`);
    for (const type of ["mousePressed", "mouseReleased"]) {
      await this.send("Input.dispatchMouseEvent", { type, ...at, button: "left", clickCount: 1 });
    }
  }
  async type(text) {
    for (const c of text) await this.send("Input.dispatchKeyEvent", { type: "char", text: c });
  }
  async press(key, modifiers = 0) {
    const code = { Enter: 13, Tab: 9, ArrowDown: 40, ArrowUp: 38, Backspace: 8, Space: 32 }[key];
    const text = key === "Enter" ? "\r" : key === "Space" ? " " : undefined;
    const base = { key: key === "Space" ? " " : key, code: key, windowsVirtualKeyCode: code, modifiers };
    await this.send("Input.dispatchKeyEvent", { type: text ? "keyDown" : "rawKeyDown", text, ...base });
    await this.send("Input.dispatchKeyEvent", { type: "keyUp", ...base });
  }
  /// Replaces what stands in a field.
  async fill(selector, text) {
    await this.click(selector);
    await this.look(`document.activeElement.select?.()`);
    await this.press("Backspace");
    await this.type(text);
  }
  /// Chooses in a list as a hand would: the change is told as the browser tells it.
  async choose(selector, value) {
    await this.look(`(() => { const e = document.querySelector(${JSON.stringify(selector)}); e.value = ${JSON.stringify(value)};
      e.dispatchEvent(new Event("change", { bubbles: true })); })()`);
  }
  async picture(file) {
    const { data } = await this.send("Page.captureScreenshot", { format: "png" });
    const { writeFileSync } = await import("node:fs");
    writeFileSync(file, Buffer.from(data, "base64"));
  }

  /// The browser gone from one moment to the next, as when a battery is taken out.
  kill() {
    return new Promise((resolve) => {
      this.process.on("exit", resolve);
      try { process.kill(-this.process.pid, "SIGKILL"); } catch { resolve(); }
    });
  }
  async end() {
    await this.kill();
    if (this.ownFolder) rmSync(this.ownFolder, { recursive: true, force: true, maxRetries: 5 });
  }
}
