// A job of its own, served by the program, with a browser window on it.
'use strict';
const { spawn } = require('node:child_process');
const fs = require('node:fs');
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
const capture = name => path.join(demo, 'recordings', name);

async function serve(job) {
  const program = spawn(process.env.EVENBEAM, ['serve', job, '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const line = await new Promise((resolve, reject) => {
    let text = '';
    program.stdout.on('data', data => { text += data; if (text.includes('\n')) resolve(text); });
    program.on('exit', code => reject(new Error(`serve ended with ${code}`)));
  });
  const leave = () => new Promise(resolve => { program.removeAllListeners('exit'); program.on('exit', resolve); program.kill('SIGTERM'); });
  return { ...JSON.parse(line), leave };
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

module.exports = { newJob, capture, serve, open, closeBrowser };
