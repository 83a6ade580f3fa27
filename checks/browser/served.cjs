// A job of its own, served by the program, with a browser window on it.
'use strict';
const { execFileSync, spawn } = require('node:child_process');
const fs = require('node:fs');
const http = require('node:http');
const os = require('node:os');
const path = require('node:path');
const { chromium } = require('playwright-core');

const demo = path.join(process.env.EVENBEAM_SOURCE, 'demo', 'job');

// The demo's folder without its captures, and captures only as they are asked for.
function newJob() {
  const job = fs.mkdtempSync(path.join(os.tmpdir(), 'evenbeam-page-'));
  fs.cpSync(demo, job, { recursive: true, filter: from => !from.endsWith('.csv') || !from.includes('recordings') });
  return job;
}
// A wire to the program that can be cut and mended: forwards to it under its own name, since it minds Host and Origin.
async function wireTo(address) {
  const target = new URL(address), sockets = new Set();
  const wire = http.createServer((asked, answer) => {
    const headers = { ...asked.headers, host: target.host };
    if (headers.origin) headers.origin = target.origin;
    const on = http.request({ host: target.hostname, port: target.port, path: asked.url, method: asked.method, headers }, got => { answer.writeHead(got.statusCode, got.headers); got.pipe(answer); });
    on.on('error', () => answer.destroy());
    answer.on('close', () => on.destroy());
    asked.pipe(on);
  });
  wire.on('connection', socket => { sockets.add(socket); socket.on('close', () => sockets.delete(socket)); });
  const mend = port => new Promise(resolve => wire.listen(port, '127.0.0.1', resolve));
  await mend(0);
  const port = wire.address().port;
  const cut = () => new Promise(resolve => { wire.close(resolve); for (const socket of sockets) socket.destroy(); });
  return { address: address.replace(target.host, `127.0.0.1:${port}`), cut, mend: () => mend(port) };
}
const capture = name => path.join(demo, 'recordings', name);

async function serve(job) {
  const program = spawn(process.env.EVENBEAM, ['serve', job, '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const line = await new Promise((resolve, reject) => {
    let text = '';
    program.stdout.on('data', data => { text += data; if (text.includes('\n')) resolve(text); });
    program.on('exit', code => reject(new Error(`serve ended with ${code}`)));
  });
  const leave = () => new Promise(resolve => { program.removeAllListeners('exit'); program.on('exit', resolve); program.kill('SIGTERM'); });
  // Seconds of processor time that the program has taken so far: says what a busy machine hides.
  const ticks = Number(execFileSync('getconf', ['CLK_TCK']));
  const worked_s = () => fs.readFileSync(`/proc/${program.pid}/stat`, 'utf8').split(') ')[1].split(' ').slice(11, 13).reduce((sum, one) => sum + Number(one), 0) / ticks;
  return { ...JSON.parse(line), leave, worked_s, pause: () => program.kill('SIGSTOP'), resume: () => program.kill('SIGCONT') };
}

let browser = null;
async function open(address, options = {}) {
  browser ??= await chromium.launch({ executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'] });
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, bypassCSP: options.bypassCSP || false, colorScheme: options.colorScheme || 'light' });
  const page = await context.newPage();
  page.troubles = [];
  page.on('pageerror', error => page.troubles.push(error.message));
  page.on('console', message => { if (message.type() === 'error') page.troubles.push(message.text()); });
  await page.goto(address);
  return page;
}
async function closeBrowser() { if (browser) await browser.close(); browser = null; }

module.exports = { newJob, capture, serve, wireTo, open, closeBrowser };
