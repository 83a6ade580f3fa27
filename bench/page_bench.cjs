// The page beside a blank one in the same browser: time to its first paint and to the job's verdict, its size as sent
// by a compressing server, and how often a trace of a million points is drawn anew while it is panned.
'use strict';
const fs = require('node:fs');
const path = require('node:path');
const zlib = require('node:zlib');
const { newJob, capture, serve, open, closeBrowser } = require('./served.cjs');

const rows = 1000000;
function millionPoints() {
  const lines = ['t_s,pos_a_mm,pos_b_mm,out_a_pct,out_b_pct'];
  for (let k = 0; k < rows; ++k)
    lines.push(`${(k / 2000).toFixed(4)},${(0.05 * Math.sin(k / 900)).toFixed(4)},${(0.05 * Math.sin(k / 907)).toFixed(4)},${k % 7},${k % 5}`);
  return lines.join('\n') + '\n';
}
const firstPaint = page => page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime);

async function paints(address) {
  const times = [];
  for (let i = 0; i < 5; ++i) {
    const page = await open(address);
    await page.waitForFunction(() => performance.getEntriesByName('first-contentful-paint').length > 0);
    times.push(await firstPaint(page));
    await page.context().close();
  }
  return times.sort((a, b) => a - b)[2];
}

// Draws of the trace in two seconds of panning by the arrow keys' function, as fast as frames come.
async function pans(page) {
  return page.evaluate(async () => {
    const { pan } = await import('./trace.js'), { state } = await import('./kit.js');
    state.view = [100, 400];
    let drawn = 0, before = state.trace;
    const until = performance.now() + 2000;
    for (let k = 0; performance.now() < until; ++k) {
      pan(k % 200 < 100 ? 0.002 : -0.002);
      await new Promise(requestAnimationFrame);
      if (state.trace !== before) { ++drawn; before = state.trace; }
    }
    return drawn / 2;
  });
}

const patience = { timeout: 600000 };
const whole = (page, before) => page.waitForFunction(number => Number(document.documentElement.dataset.revision || 0) > number, before, patience);

// All captures but the last are there; the last is dropped on the page.
async function drops() {
  const job = newJob(), names = fs.readdirSync(path.dirname(capture('x'))).sort(), last = names.pop();
  fs.mkdirSync(path.join(job, 'recordings'), { recursive: true });
  for (const name of names) fs.copyFileSync(capture(name), path.join(job, 'recordings', name));
  const served = await serve(job);
  let began = performance.now();
  const page = await open(served.address);
  await whole(page, 0);
  const first = performance.now() - began, before = await page.evaluate(() => Number(document.documentElement.dataset.revision));
  began = performance.now();
  await page.setInputFiles('#files', capture(last));
  await page.waitForFunction(name => [...document.getElementById('recording').options].some(one => one.value === name), last, patience);
  const seen = performance.now() - began;
  await whole(page, before);
  const done = performance.now() - began;
  console.log(`a job of ${names.length} captures is looked at in ${(first / 1000).toFixed(1)} s; one more dropped on the page shows what it is after ${(seen / 1000).toFixed(1)} s (goal: 2), and every station has answered after ${(done / 1000).toFixed(1)} s`);
  await page.context().close();
  await served.leave();
  fs.rmSync(job, { recursive: true });
}

(async () => {
  await drops();
  const job = newJob();
  fs.mkdirSync(path.join(job, 'recordings'), { recursive: true });
  fs.writeFileSync(path.join(job, 'recordings', 'long.csv'), millionPoints());
  fs.appendFileSync(path.join(job, 'recordings.toml'), '\n[files."long.csv"]\nkind = "standstill"\n');
  const served = await serve(job);
  const blank = await paints('data:text/html,<p>blank</p>'), first = await paints(served.address);
  console.log(`first paint ${first.toFixed(0)} ms, a blank page ${blank.toFixed(0)} ms in the same browser: +${(first - blank).toFixed(0)} ms (goal: under 500 ms)`);
  const page = await open(served.address);
  await page.waitForFunction(() => document.documentElement.dataset.revision, null, { timeout: 120000 });
  const rate = await pans(page);
  console.log(`a trace of ${rows} points is drawn ${rate.toFixed(0)} times a second while panned (goal: 50)`);
  const folder = path.join(process.env.EVENBEAM_SOURCE, 'src', 'web', 'page');
  const size = fs.readdirSync(folder).reduce((sum, name) => sum + zlib.gzipSync(fs.readFileSync(path.join(folder, name))).length, 0);
  console.log(`page files, gzip: ${(size / 1000).toFixed(1)} kB (goal: under 300 kB)`);
  await closeBrowser();
  await served.leave();
  fs.rmSync(job, { recursive: true });
})().catch(error => { console.error(error); process.exit(1); });
