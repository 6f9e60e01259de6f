// Runs the firmware on MicroPython's WebAssembly build, one boot per process. Units: ms of wall time.
// First line on stdin: JSON {module, files: {path: base64}, before, load, start}. Lines on stdout:
// D <bytes bare> <bytes loaded> booted, D <ms> [<heap bytes>] a cycle is done, E <json text> an error,
// everything else a call to the bench, answered by one line. The next cycle starts at once and waits in
// its first call; that it is done is told with that call, before a tab, so that a cycle costs one line each
// way. Garbage is collected when control is back here, so a cycle is one call.
import fs from 'node:fs';

const HEAP_EVERY = 512; // cycles

let held = Buffer.alloc(1 << 20);
let end = 0;
const wait = new Int32Array(new SharedArrayBuffer(4));

function readLine() {
  for (;;) {
    const at = held.subarray(0, end).indexOf(10);
    if (at >= 0) {
      const line = held.toString('utf8', 0, at);
      held.copy(held, 0, at + 1, end);
      end -= at + 1;
      return line;
    }
    if (end === held.length) held = Buffer.concat([held, Buffer.alloc(held.length)]);
    let n = 0;
    try {
      n = fs.readSync(0, held, end, held.length - end, null);
    } catch (err) {
      if (err.code !== 'EAGAIN') throw err;
      Atomics.wait(wait, 0, 0, 1);
      continue;
    }
    if (n === 0) process.exit(0);
    end += n;
  }
}

function say(line) {
  let rest = Buffer.from(line + '\n');
  while (rest.length) {
    try {
      rest = rest.subarray(fs.writeSync(1, rest));
    } catch (err) {
      if (err.code !== 'EAGAIN') throw err;
      Atomics.wait(wait, 0, 0, 1);
    }
  }
}

let spent = 0;
let done = '';
globalThis.bench = (line) => {
  const t0 = performance.now();
  say(done + line);
  done = '';
  const answer = readLine();
  spent += performance.now() - t0;
  return answer;
};

function tell(err) {
  if (done) say(done);
  say('E ' + JSON.stringify(String(err && err.message ? err.message : err)));
}

// The build looks up a function in its table at every call that may raise, which Node does slowly. The table
// does not change once the build is loaded.
const look = WebAssembly.Table.prototype.get;
let table, seen;
WebAssembly.Table.prototype.get = function (at) {
  if (this !== table) {
    table = this;
    seen = [];
  }
  return seen[at] ?? (seen[at] = look.call(this, at));
};

const first = JSON.parse(readLine());
const { loadMicroPython } = await import(first.module);
const mp = await loadMicroPython({
  heapsize: 1 << 18, linebuffer: true, stdout: (text) => fs.writeSync(2, text + '\n'),
});
const made = new Set();
for (const [path, text] of Object.entries(first.files)) {
  const parts = path.split('/').slice(1, -1);
  let folder = '';
  for (const part of parts) {
    folder += '/' + part;
    if (!made.has(folder)) { mp.FS.mkdir(folder); made.add(folder); }
  }
  mp.FS.writeFile(path, Buffer.from(text, 'base64'));
}

let cycle, collect, heap;
try {
  mp.runPython(first.before);
  collect = mp.globals.get('collect');
  heap = mp.globals.get('heap');
  collect();
  const bare = heap();
  mp.runPython(first.load);
  collect();
  const loaded = heap();
  mp.runPython(first.start);
  cycle = mp.globals.get('cycle');
  say('D ' + bare + ' ' + loaded);
} catch (err) { tell(err); process.exit(0); }

for (let n = 0; ; n += 1) {
  try {
    spent = 0;
    const t0 = performance.now();
    cycle();
    done = 'D ' + (performance.now() - t0 - spent).toFixed(3);
    if (n % HEAP_EVERY === 0) {
      collect();
      done += ' ' + heap();
    }
    done += '\t';
  } catch (err) { tell(err); process.exit(0); }
}
