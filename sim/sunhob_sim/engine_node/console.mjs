// A board with a console: MicroPython's WebAssembly build, its raw mode, and a flash kept in a file.
// One start per process; the end of a start (reset, power cut) is the end of the process. Units: ms.
// Arguments: module, flash file (JSON, path: base64), boot file, speed of virtual time. stdin: lines of hex
// for the console, "P" for a power cut. stdout: lines of hex.
import fs from 'node:fs';

const [modulePath, flashPath, bootPath] = process.argv.slice(2);
const WINDOW = 256;
const wait = new Int32Array(new SharedArrayBuffer(4));
const inbox = [];
let outbox = [];
let text = '';
let mp;

function crc32(bytes, start) {
  let crc = ~start;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

function sleep(ms) { Atomics.wait(wait, 0, 0, ms); }

function pump() {
  const held = Buffer.alloc(65536);
  let n;
  try {
    n = fs.readSync(0, held, 0, held.length, null);
  } catch (err) {
    if (err.code === 'EAGAIN') return;
    throw err;
  }
  if (n === 0) end();
  text += held.toString('latin1', 0, n);
  const lines = text.split('\n');
  text = lines.pop();
  for (const line of lines) {
    if (line === 'P') end();
    inbox.push(...Buffer.from(line, 'hex'));
  }
}

function ready(ms) {
  const until = performance.now() + ms;
  for (;;) {
    pump();
    if (inbox.length || performance.now() >= until) return inbox.length;
    flush();
    sleep(2);
  }
}

function flush() {
  if (!outbox.length) return;
  let rest = Buffer.from(Buffer.from(outbox).toString('hex') + '\n');
  outbox = [];
  while (rest.length) {
    try { rest = rest.subarray(fs.writeSync(1, rest)); } catch (err) {
      if (err.code === 'EPIPE') process.exit(0);
      if (err.code !== 'EAGAIN') throw err;
      sleep(1);
    }
  }
}

function files(folder = '', found = {}) {
  for (const name of mp.FS.readdir(folder || '/')) {
    const path = folder + '/' + name;
    if (name === '.' || name === '..' || ['/dev', '/proc', '/tmp', '/home', '/shims'].includes(path)) continue;
    if (mp.FS.isDir(mp.FS.stat(path).mode)) { found[path + '/'] = ''; files(path, found); } else found[path] = mp.FS.readFile(path);
  }
  return found;
}

function end() {
  flush();
  const kept = {};
  for (const [path, body] of Object.entries(files())) kept[path] = Buffer.from(body).toString('base64');
  fs.writeFileSync(flashPath, JSON.stringify(kept));
  process.exit(0);
}

function put(path, body) {
  const parts = path.split('/').slice(1, -1);
  let folder = '';
  for (const part of parts) {
    folder += '/' + part;
    try { mp.FS.mkdir(folder); } catch { /* is there */ }
  }
  if (!path.endsWith('/')) mp.FS.writeFile(path, body);
}

globalThis.board = {
  ready,
  take: () => inbox.shift(),
  send: (hex) => { outbox.push(...Buffer.from(hex, 'hex')); if (outbox.length > 2048) flush(); },
  flush,
  end,
  // what a board has in C and this build in Python
  crc: (hex, start) => String(crc32(Buffer.from(hex, 'hex'), Number(start))),
  plain: (base64) => Buffer.from(base64, 'base64').toString('hex'),
  used: () => Object.values(files()).reduce((sum, body) => sum + Math.ceil(body.length / 4096) * 4096, 0),
};

function send(bytes) { outbox.push(...Buffer.from(bytes, 'latin1')); }

function next() {
  while (!ready(20)) mp.runPython('_idle()');
  return inbox.shift();
}

function run(code) {
  try { mp.runPython(code); return ''; } catch (err) { return String(err.message); }
}

function pasted() {
  send('R\x01' + String.fromCharCode(WINDOW & 255, WINDOW >> 8));
  const code = [];
  for (;;) {
    flush();
    const byte = next();
    if (byte === 4) break;
    code.push(byte);
    if (code.length % WINDOW === 0) send('\x01');
  }
  send('\x04');
  return code;
}

async function raw() {
  send('raw REPL; CTRL-B to exit\r\n>');
  let code = [];
  for (;;) {
    flush();
    const byte = next();
    let whole = null;
    if (byte === 1) { send('raw REPL; CTRL-B to exit\r\n>'); code = []; } else if (byte === 2) return;
    else if (byte === 3) code = [];
    else if (byte === 5 && !code.length) { next(); next(); whole = pasted(); } else if (byte === 4 && !code.length) {
      await begin(files()); // a soft reset: names go, files stay, the console stays raw
      send('OK\r\nMPY: soft reboot\r\nraw REPL; CTRL-B to exit\r\n>');
    } else if (byte === 4) {
      send('OK');
      whole = code;
    } else code.push(byte);
    if (whole) {
      const error = run(Buffer.from(whole).toString('utf8'));
      send('\x04' + error + '\x04>');
      code = [];
    }
  }
}

const first = JSON.parse(fs.readFileSync(bootPath, 'utf8'));
const { loadMicroPython } = await import(modulePath);
async function begin(flash) {
  mp = await loadMicroPython({
    heapsize: 1 << 18, linebuffer: false, stdout: (data) => { outbox.push(...data); },
  });
  for (const [path, body] of Object.entries(first.shims)) put(path, Buffer.from(body, 'base64'));
  for (const [path, body] of Object.entries(flash)) put(path, body);
  mp.runPython(first.before);
}

const kept = Object.entries(JSON.parse(fs.readFileSync(flashPath, 'utf8')));
await begin(Object.fromEntries(kept.map(([path, body]) => [path, Buffer.from(body, 'base64')])));
let main;
try { main = mp.FS.readFile('/main.py', { encoding: 'utf8' }); } catch { main = ''; }
const error = run(main);
if (error) send(error.replaceAll('\n', '\r\n'));
mp.replInit();
for (;;) {
  flush();
  const byte = next();
  if (byte === 1) {
    await raw();
    mp.replInit();
  } else if (byte === 4) end();
  else if (byte === 2) mp.replInit();
  else mp.replProcessChar(byte);
}
