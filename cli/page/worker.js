// Runs in a worker: the program, its files in memory, one question at a time. Glue and program stand before it.
/* global bagsplitProgram */
const home = "/night";
let program = null;

function writeFile(name, bytes) {
  const parts = name.split("/");
  let folder = home;
  for (const part of parts.slice(0, -1)) {
    folder += "/" + part;
    if (!program.FS.analyzePath(folder).exists) program.FS.mkdir(folder);
  }
  program.FS.writeFile(home + "/" + name, bytes);
}

function removeFile(name) {
  if (program.FS.analyzePath(home + "/" + name).exists) program.FS.unlink(home + "/" + name);
}

function ask({ words, localDay }) {
  const question = JSON.stringify({ arguments: words, local_day: localDay });
  return JSON.parse(program.ccall("bagsplit_ask", "string", ["string"], [question]));
}

const tasks = {
  async start({ wasm }) {
    program = await bagsplitProgram({ wasmBinary: wasm, print: () => {}, printErr: () => {} });
    program.FS.ignorePermissions = true;  // nobody else is here
    program.FS.mkdir(home);
    program.FS.chdir(home);
    return JSON.parse(program.ccall("bagsplit_ask", "string", ["string"], [""]));
  },
  put({ name, bytes }) { writeFile(name, bytes); },
  remove({ name }) { removeFile(name); },
  ask,
  askForFolder({ words, localDay }) {
    const folder = "answer-folder/";
    const { ended, talk } = ask({ words: [...words, "--output", folder], localDay });
    const files = [];
    if (program.FS.analyzePath(folder).exists) {
      for (const name of program.FS.readdir(folder).filter((one) => !one.startsWith("."))) {
        files.push([name, program.FS.readFile(folder + name, { encoding: "utf8" })]);
        program.FS.unlink(folder + name);
      }
      program.FS.rmdir(folder.slice(0, -1));
    }
    return { ended, talk, files };
  },
};

onmessage = async ({ data }) => {
  try {
    postMessage({ number: data.number, value: await tasks[data.task](data) });
  } catch (error) {
    postMessage({ number: data.number, trouble: String(error && error.message ? error.message : error) });
  }
};
