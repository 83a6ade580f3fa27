// The page in a real browser, measured: time to its first paint beside a blank page's, its size as sent by a compressing
// server, how often a trace of a million points is drawn while it is panned, playing and trying in three windows at once,
// and what a dropped capture takes until it is recognised, the next step is told, and every station has answered.
// EVENBEAM_BENCH_JOBS: folders of further jobs to drop a capture on, apart by colons.
'use strict';
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const zlib = require('node:zlib');
const { newJob, capture, serve, open, closeBrowser } = require('./served.cjs');

const rows = 1000000, windows = 3;
const patience = { timeout: 600000, polling: 50 };
const middle = (list, part = 0.5) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(part * list.length))];
const busy = () => `load ${os.loadavg()[0].toFixed(1)} on ${os.cpus().length} cores`;
const whole = (page, before) => page.waitForFunction(number => Number(document.documentElement.dataset.revision || 0) > number, before, patience);

function millionPoints() {
  const lines = ['t_s,pos_a_mm,pos_b_mm,out_a_pct,out_b_pct'];
  for (let k = 0; k < rows; ++k)
    lines.push(`${(k / 2000).toFixed(4)},${(0.05 * Math.sin(k / 900)).toFixed(4)},${(0.05 * Math.sin(k / 907)).toFixed(4)},${k % 7},${k % 5}`);
  return lines.join('\n') + '\n';
}

async function paints(address) {
  const times = [];
  for (let i = 0; i < 5; ++i) {
    const page = await open(address);
    await page.waitForFunction(() => performance.getEntriesByName('first-contentful-paint').length > 0);
    times.push(await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0].startTime));
    await page.context().close();
  }
  return middle(times);
}

// Draws of the trace in two seconds of panning by the arrow keys' function, as fast as frames come, and what the page
// itself takes for one; frames of the browser with nothing to do beside it.
async function pans(page) {
  return page.evaluate(async () => {
    const { pan } = await import('./trace.js'), { state } = await import('./kit.js');
    const frames = async (seconds, task) => {
      let count = 0;
      const until = performance.now() + 1000 * seconds;
      for (; performance.now() < until; ++count) { task(count); await new Promise(requestAnimationFrame); }
      return count / seconds;
    };
    const idle = await frames(1, () => {});
    state.view = [100, 400];
    let drawn = 0, before = state.trace, spent = 0, asked = 0;
    await frames(2, k => {
      const began = performance.now();
      pan(k % 200 < 100 ? 0.002 : -0.002);
      spent += performance.now() - began; ++asked;
      if (state.trace !== before) { ++drawn; before = state.trace; }
    });
    return { rate: drawn / 2, idle, each_ms: spent / asked };
  });
}

// The last fault of the virtual gantry played for two seconds; then its settings tried as fast as answers come.
const playing = page => page.evaluate(async () => {
  const { play, stopPlaying } = await import('./bridge.js'), { showTrace } = await import('./trace.js'), { state } = await import('./kit.js');
  let count = 0, spent = 0;
  state.place = 0;
  play(how => { const began = performance.now(); showTrace(how); spent += performance.now() - began; ++count; });
  const began = performance.now();
  await new Promise(resolve => setTimeout(resolve, 1900));
  const seconds = (performance.now() - began) / 1000;
  stopPlaying();
  return { rate: count / seconds, each_ms: spent / count };
});
const trying = page => page.evaluate(async () => {
  const { post, state } = await import('./kit.js'), times = [];
  for (let k = 0; k < 60; ++k) {
    const began = performance.now();
    await post('/ask/forecast', { move: state.job.moves_to_try[0], mean_gain: 1, skew_gain: 0.5 + k / 100, carriage_y_m: 0, payload_kg: 0 });
    times.push(performance.now() - began);
  }
  return times;
});

async function virtual() {
  const job = newJob();
  fs.cpSync(path.dirname(capture('x')), path.join(job, 'recordings'), { recursive: true });
  const served = await serve(job), pages = [];
  for (let i = 0; i < windows; ++i) pages.push(await open(served.address));
  for (const page of pages) await whole(page, 0);
  for (const page of pages) {
    await page.evaluate(() => { document.getElementById('fault-part').open = true; });
    await page.click('#fault [type=submit]');
    await page.waitForFunction(() => /Playing the virtual gantry/.test(document.getElementById('playing').textContent), null, patience);
  }
  const alone = await playing(pages[0]), together = await Promise.all(pages.map(playing));
  console.log(`the virtual gantry is played at ${alone.rate.toFixed(0)} frames a second, ${alone.each_ms.toFixed(1)} ms of script each (goal: 60); in ${windows} windows at once at ${together.map(one => one.rate.toFixed(0)).join(', ')}; ${busy()}`);
  const one = await trying(pages[0]), all = (await Promise.all(pages.map(trying))).flat();
  console.log(`a forecast under changed gains answers in ${middle(one).toFixed(0)} ms, 95 of 100 in ${middle(one, 0.95).toFixed(0)} (goal: 50); in ${windows} windows at once in ${middle(all).toFixed(0)}, 95 of 100 in ${middle(all, 0.95).toFixed(0)}; ${busy()}`);
  const before = await Promise.all(pages.map(page => page.evaluate(() => Number(document.documentElement.dataset.revision))));
  const began = performance.now();
  fs.appendFileSync(path.join(job, 'recordings.toml'), '\n# news\n');
  const told = await Promise.all(pages.map(async (page, i) => { await whole(page, before[i]); return performance.now() - began; }));
  console.log(`a change of the folder that changes no answer is shown in ${windows} windows after ${told.map(time => (time / 1000).toFixed(2)).join(', ')} s, of which the folder is looked at every 0.3 s; ${busy()}`);
  for (const page of pages) await page.context().close();
  await served.leave();
  fs.rmSync(job, { recursive: true });
}

// All captures but one are there: the last move, since the fit and all that stands on it is made anew with it.
async function drops(name, from) {
  const job = fs.mkdtempSync(path.join(os.tmpdir(), 'evenbeam-drop-')), names = fs.readdirSync(path.join(from, 'recordings')).filter(one => one.endsWith('.csv')).sort();
  const kept = path.join(job, '..', `${path.basename(job)}-last`), last = names.filter(one => /move/.test(one)).at(-1) ?? names.at(-1);  // a move changes the fit
  fs.cpSync(from, job, { recursive: true, filter: one => !one.endsWith(last) && !/results|journal/.test(path.basename(one)) });
  fs.mkdirSync(kept);
  fs.copyFileSync(path.join(from, 'recordings', last), path.join(kept, last));
  const served = await serve(job);
  let began = performance.now();
  const page = await open(served.address);
  await whole(page, 0);
  const first = performance.now() - began, before = await page.evaluate(() => Number(document.documentElement.dataset.revision));
  began = performance.now();
  const worked = served.worked_s(), since = () => `${((performance.now() - began) / 1000).toFixed(1)} s (${(served.worked_s() - worked).toFixed(1)})`;
  await page.setInputFiles('#files', path.join(kept, last));
  await page.waitForFunction(one => [...document.getElementById('recording').options].some(option => option.value === one), last, patience);
  const recognised = since();
  await page.waitForFunction(() => ![...document.querySelectorAll('#line li')].find(one => /survey/.test(one.textContent)).textContent.includes('…'), null, patience);
  const moved = since();
  await page.waitForFunction(() => !/is being evaluated/.test(document.getElementById('next').textContent), null, patience);
  const told = since();
  await whole(page, before);
  console.log(`${name}: ${names.length - 1} captures are looked at in ${(first / 1000).toFixed(1)} s; one more dropped on the page is recognised after ${recognised}, the line of work moves on after ${moved}, what to do now is told after ${told} (goal for these: 2 s), every station has answered after ${since()}; in brackets the program's processor time; ${busy()}`);
  await page.context().close();
  await served.leave();
  for (const folder of [job, kept]) fs.rmSync(folder, { recursive: true });
}

async function longTrace() {
  const job = newJob();
  fs.mkdirSync(path.join(job, 'recordings'), { recursive: true });
  fs.writeFileSync(path.join(job, 'recordings', 'long.csv'), millionPoints());
  fs.appendFileSync(path.join(job, 'recordings.toml'), '\n[files."long.csv"]\nkind = "standstill"\n');
  const served = await serve(job);
  const blank = await paints('data:text/html,<p>blank</p>'), first = await paints(served.address);
  console.log(`first paint ${first.toFixed(0)} ms, a blank page ${blank.toFixed(0)} ms in the same browser: +${(first - blank).toFixed(0)} ms (goal: under 500 ms); ${busy()}`);
  const page = await open(served.address);
  await whole(page, 0);
  const { rate, idle, each_ms } = await pans(page);
  console.log(`a trace of ${rows} points is drawn ${rate.toFixed(0)} times a second while panned (goal: 50), ${each_ms.toFixed(1)} ms of script each; the browser alone makes ${idle.toFixed(0)} frames a second; ${busy()}`);
  await served.leave();
  fs.rmSync(job, { recursive: true });
}

(async () => {
  await drops('demo', path.join(process.env.EVENBEAM_SOURCE, 'demo', 'job'));
  for (const folder of (process.env.EVENBEAM_BENCH_JOBS || '').split(':').filter(Boolean)) await drops(path.basename(folder), folder);
  await virtual();
  await longTrace();
  const folder = path.join(process.env.EVENBEAM_SOURCE, 'src', 'web', 'page');
  const size = fs.readdirSync(folder).reduce((sum, name) => sum + zlib.gzipSync(fs.readFileSync(path.join(folder, name))).length, 0);
  console.log(`page files, gzip: ${(size / 1000).toFixed(1)} kB (goal: under 300 kB)`);
  await closeBrowser();
})().catch(error => { console.error(error); process.exit(1); });
