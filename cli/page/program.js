// The program in its worker: what the page asks of it, each answer a promise.

async function unpack(id) {
  const text = document.getElementById(id).textContent;
  const packed = Uint8Array.from(atob(text.trim()), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

let worker = null;
let asked = 0;
const waiting = new Map();

function tell(task, content = {}) {
  const number = ++asked;
  return new Promise((resolve, reject) => {
    waiting.set(number, { resolve, reject });
    worker.postMessage({ number, task, ...content });
  });
}

/// @return what there is to choose from: {courses, postures, flags}.
export async function startProgram() {
  const [script, wasm] = await Promise.all([unpack("worker-script"), unpack("worker-program")]);
  const address = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  worker = new Worker(address);
  worker.onmessage = ({ data }) => {
    const { resolve, reject } = waiting.get(data.number);
    waiting.delete(data.number);
    if ("trouble" in data) reject(new Error(data.trouble));
    else resolve(data.value);
  };
  worker.onerror = () => {
    for (const { reject } of waiting.values()) reject(new Error("the program could not be started"));
    waiting.clear();
  };
  return tell("start", { wasm });
}

export const putFile = (name, bytes) => tell("put", { name, bytes });
export const removeFile = (name) => tell("remove", { name });

/// Days from 1970-01-01 to today where this device is.
function localDay() {
  const now = new Date();
  return Math.round(Date.UTC(now.getFullYear(), now.getMonth(), now.getDate()) / 86400000);
}

/// As on a command line.  @return {ended, answer, talk}
export const ask = (...words) => tell("ask", { words, localDay: localDay() });

/// The same where the answer is a folder.  @return {ended, talk, files: [name, text]}
export const askForFolder = (...words) => tell("askForFolder", { words, localDay: localDay() });

/// The invented season, as [name, bytes].
export async function demoFiles() {
  const files = JSON.parse(new TextDecoder().decode(await unpack("demo-season")));
  return Object.entries(files).map(([name, text]) => [name, new TextEncoder().encode(text)]);
}
