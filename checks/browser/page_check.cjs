// The whole job through the page, as a person does it: captures dropped, a question of units answered, verdicts read,
// a stop set aside, settings and faults tried, commands rehearsed, texts changed, settings taken, the record written.
'use strict';
const test = require('node:test');
const assert = require('node:assert/strict');
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const { newJob, capture, serve, open, closeBrowser } = require('./served.cjs');

const patience = { timeout: 120000 };
const words = (page, id) => page.locator(`#${id}`).innerText();
// Until the page shows an evaluation newer than `before`.
const looked = (page, before) => page.waitForFunction(number =>
  Number(document.documentElement.dataset.revision) > number && !document.getElementById('doing').textContent, before, patience);
const revision = page => page.evaluate(() => Number(document.documentElement.dataset.revision || 0));

let job, served, page;
test.before(async () => {
  job = newJob();
  served = await serve(job);
  page = await open(served.address);
  await looked(page, 0);
});
test.after(async () => {
  await closeBrowser();
  await served.leave();
  fs.rmSync(job, { recursive: true });
});

test('an empty job says what to do now, and that the page moves nothing', async () => {
  assert.match(await words(page, 'next'), /\w{3}/);
  assert.match(await page.locator('header').innerText(), /never moves a machine/);
  assert.equal(await page.locator('#virtual-stop').isVisible(), true);
  assert.equal(await page.locator('#line li').count() > 10, true);
});

test('a text is checked, kept with its comments, and never overwritten from an old view', async () => {
  await page.locator('#texts-part summary').click();
  await page.waitForFunction(() => document.getElementById('text').value.includes('span'));
  const file = path.join(job, 'machine.toml'), before = fs.readFileSync(file, 'utf8');
  await page.fill('#text', `${before}\nspeling = 3\n`);
  await page.click('#text-keep');
  await page.waitForFunction(() => document.querySelectorAll('#text-troubles li').length > 0);
  assert.equal(fs.readFileSync(file, 'utf8'), before);
  await page.fill('#text', `# by the page\n${before}`);
  const seen = await revision(page);
  await page.click('#text-keep');
  await looked(page, seen);
  assert.equal(fs.readFileSync(file, 'utf8'), `# by the page\n${before}`);
  const kept = await revision(page);
  fs.writeFileSync(file, before);
  await page.fill('#text', `# from an old view\n${before}`);
  await page.click('#text-keep');
  await page.waitForFunction(() => /changed meanwhile/.test(document.getElementById('text-words').textContent));
  assert.equal(fs.readFileSync(file, 'utf8'), before);
  await looked(page, kept);
});

test('the check sheet is filled in line by line, checked, and not over another window', async () => {
  const file = path.join(job, 'ready.toml');
  await page.locator('#line button', { hasText: 'ready' }).click();
  let before = await revision(page);
  await page.click('#sheet-open');
  await page.waitForSelector('#sheet-lock_out');
  await looked(page, before);
  const line = name => page.locator(`#sheet-${name}`);
  await line('lock_out').locator('summary').click();
  await line('lock_out').locator('[name=seen]').selectOption('yes');
  before = await revision(page);
  await line('lock_out').locator('[type=submit]').click();
  await looked(page, before);
  const kept = fs.readFileSync(file, 'utf8');
  assert.match(kept, /\[check\.lock_out\]\nseen = "yes"\n/);
  assert.match(kept, /^# Lock-out works$/m);
  await line('rail_parallelism').locator('summary').click();
  await line('rail_parallelism').locator('[name=measured]').fill('12 kg');
  await line('rail_parallelism').locator('[type=submit]').click();
  await page.waitForFunction(() => /expected/.test(document.querySelector('#sheet-rail_parallelism [role=status]').textContent));
  assert.equal(fs.readFileSync(file, 'utf8'), kept);
  fs.writeFileSync(file, `# by hand\n${kept}`);
  await line('rail_parallelism').locator('[name=measured]').fill('12 um');
  await line('rail_parallelism').locator('[name=instrument]').fill('laser');
  await line('rail_parallelism').locator('[type=submit]').click();
  await page.waitForFunction(() => /changed meanwhile/.test(document.querySelector('#sheet-rail_parallelism [role=status]').textContent));
  assert.equal(fs.readFileSync(file, 'utf8'), `# by hand\n${kept}`);
  await line('rail_parallelism').locator('[type=submit]').click();
  await page.waitForFunction(() => /12 um/.test(document.querySelector('#sheet-rail_parallelism summary').textContent));
  const last = fs.readFileSync(file, 'utf8');
  assert.match(last, /^# by hand\n/);
  assert.match(last, /measured = "12 um" +# "12 um"\ninstrument = "laser"/);
  before = await revision(page);
  fs.rmSync(file);
  await looked(page, before);
});

test('a capture that names no units is asked about in place, and the answer is kept', async () => {
  const header = 't,left,right,u1,u2';
  const rows = fs.readFileSync(capture('01-nudges.csv'), 'utf8').split('\n').filter(line => /^[-0-9]/.test(line));
  const names = fs.readFileSync(capture('01-nudges.csv'), 'utf8').split('\n').find(line => /^t_s/.test(line)).split(/[,;\t]/);
  const columns = names.map((_, i) => header.split(',')[i] ?? `extra${i}`).join(',');
  const elsewhere = fs.mkdtempSync(path.join(os.tmpdir(), 'evenbeam-capture-'));  // not in the job: its folder is watched
  fs.writeFileSync(path.join(elsewhere, 'question.csv'), [columns, ...rows].join('\n'));
  const before = await revision(page);
  await page.setInputFiles('#files', path.join(elsewhere, 'question.csv'));
  await looked(page, before);
  fs.rmSync(elsewhere, { recursive: true });
  await page.locator('#questions button').click();
  await page.waitForSelector('#columns-form');
  const count = await page.locator('#columns tbody tr').count();
  assert.equal(count, names.length);
  for (let i = 0; i < count; ++i) {
    const name = names[i].toLowerCase().trim();
    const [role, unit] = /^t_s/.test(name) ? ['time', 's'] : ['ignored', ''];
    await page.selectOption(`[name=role-${i}]`, role);
    await page.fill(`[name=unit-${i}]`, unit);
  }
  await page.click('#columns-form [type=submit]');
  await page.waitForFunction(() => /position|expected/.test(document.querySelector('#columns-form .quiet[role=status]')?.textContent || ''), null, patience);
  const places = names.map((name, i) => [name.toLowerCase(), i]).filter(([name]) => !/^t_s/.test(name));
  const roleOf = name => { const side = /_b_/.test(name) ? 'b' : 'a'; return /out/.test(name) ? [`output_${side}`, '%'] : /ref/.test(name) ? [`reference_${side}`, 'mm'] : [`position_${side}`, 'mm']; };
  for (const [name, i] of places) {
    const [role, unit] = roleOf(name);
    await page.selectOption(`[name=role-${i}]`, role);
    await page.fill(`[name=unit-${i}]`, unit);
  }
  await looked(page, before);
  const second = await revision(page);
  await page.click('#columns-form [type=submit]');
  await looked(page, second);
  assert.match(fs.readFileSync(path.join(job, 'recordings.toml'), 'utf8'), /\[files\."question\.csv"\]/);
  assert.equal(await page.locator('#questions li').count(), 0);
  const third = await revision(page);
  fs.rmSync(path.join(job, 'recordings', 'question.csv'));
  await looked(page, third);
});

test('the demo\'s captures dropped on the page move the line of work on to settings', async () => {
  const names = fs.readdirSync(path.dirname(capture('x')));
  const before = await revision(page);
  await page.setInputFiles('#files', names.map(capture));
  await page.waitForFunction(() => document.querySelector('#settings-row') && !document.querySelector('#settings-row').hidden, null, patience);
  await looked(page, before);
  assert.deepEqual(fs.readdirSync(path.join(job, 'recordings')).sort(), names.sort());
  assert.match(await page.locator('#bridge-words').innerText(), /skew .* drawn \d+ times too large/);
});

test('evidence: a finding opens its recording at its span; the line and the held place give differences', async () => {
  await page.locator('#line button', { hasText: 'nudge' }).click();
  const see = page.locator('#station button', { hasText: 'See it in' }).first();
  await see.click();
  await page.waitForFunction(() => /samples/.test(document.getElementById('trace-words').textContent));
  await page.click('#hold');
  await page.locator('#time').fill('700');
  assert.match(await words(page, 'trace-words'), /From the held place: -?\d/);
  const whole = Number((await words(page, 'trace-words')).match(/; (\d+) samples/)[1]);
  await page.locator('#trace').focus();
  for (let i = 0; i < 14; ++i) { await page.keyboard.press('+'); await page.waitForTimeout(60); }
  await page.waitForFunction(count => { const found = /; (\d+) samples, each drawn/.exec(document.getElementById('trace-words').textContent); return found && Number(found[1]) < count; }, whole);
});

test('trying a gain answers; far too much says unstable', async () => {
  await page.waitForFunction(() => /peak skew error/.test(document.getElementById('tried').textContent), null, patience);
  const gentle = await words(page, 'tried');
  await page.locator('#try-skew').fill('0.4');
  await page.waitForFunction(before => document.getElementById('tried').innerText !== before, gentle, patience);
  assert.match(await words(page, 'tried'), /peak sensitivity/);
});

test('a fault on the virtual gantry is played, told against the limit, and stopped by the virtual stop', async () => {
  await page.locator('#fault-part summary').click();
  await page.click('#fault [type=submit]');
  await page.waitForFunction(() => /peak skew/.test(document.getElementById('fault-words').textContent), null, patience);
  await page.waitForFunction(() => /Playing the virtual gantry/.test(document.getElementById('playing').textContent));
  assert.match(await words(page, 'bridge-words'), /^Virtual/);
  await page.click('#virtual-stop');
  assert.match(await words(page, 'playing'), /stands still/);
});

test('commands are judged; a wrong one says why and what it would do to this machine', async () => {
  await page.locator('#session-part summary').click();
  const give = async (operation, sides) => {
    await page.check(`[name=sides][value=${sides}]`);
    const before = await page.locator('#given > li').count();
    await page.locator('#commands button').filter({ has: page.locator('span', { hasText: new RegExp(`^${operation}$`) }) }).click();
    await page.waitForFunction(count => document.querySelectorAll('#given > li').length > count, before, patience);
    return page.locator('#given > li').first().innerText();
  };
  assert.match(await give('enable', 'both'), /right/);
  assert.match(await give('close', 'A'), /wrong/);
  assert.match(await give('close', 'both'), /right/);
  assert.match(await give('tie', 'both'), /right/);
  const search = await give('search', 'A');
  assert.match(search, /wrong/);
  assert.match(search, /skew up to/);
});

test('a stop is set aside with a written reason, which the record keeps', async () => {
  const stopped = await page.evaluate(async () => (await import('/kit.js')).state.job.line.filter(one => one.open_stop).map(one => one.name));
  if (!stopped.length) return assert.match(await words(page, 'verdict'), /pass|attention/);
  await page.locator('#line button', { hasText: stopped[0] }).click();
  await page.fill('#override-reason', 'bridge held by hand, checked twice');
  await page.fill('#override-by', 'the check');
  const before = await revision(page);
  await page.click('#override [type=submit]');
  await looked(page, before);
  assert.match(await words(page, 'station'), /Set aside by the check: bridge held by hand/);
});

test('settings in every form, the record and its report', async () => {
  const forms = await page.locator('#settings-form option').allInnerTexts();
  assert.ok(forms.includes('si') && forms.includes('st'), forms.join());
  await page.selectOption('#settings-form', 'st');
  assert.match(await words(page, 'settings-text'), /FUNCTION_BLOCK/);
  await page.fill('#by', 'the check');
  await page.click('#record [type=submit]');
  await page.waitForFunction(() => /Entry \d+; written: .*result\.json/.test(document.getElementById('record-words').textContent), null, patience);
  assert.ok(fs.existsSync(path.join(job, 'results', 'result.json')));
  const [report] = await Promise.all([page.context().waitForEvent('page'), page.click('#report')]);
  await report.waitForLoadState();
  assert.match(await report.locator('body').innerText(), /signature|Signature/);
  await report.close();
});

test('keyboard alone reaches what matters; nothing goes wrong in the console', async () => {
  await page.evaluate(() => { document.activeElement.blur(); scrollTo(0, 0); });
  const reached = new Set();
  for (let i = 0; i < 140; ++i) {
    await page.keyboard.press('Tab');
    reached.add(await page.evaluate(() => document.activeElement.id || document.activeElement.textContent.trim().slice(0, 20)));
  }
  for (const id of ['recording', 'play', 'time', 'trace', 'files', 'try-mean', 'fault-kind', 'session-new', 'text-keep', 'by', 'virtual-stop'])
    assert.ok(reached.has(id), `${id} is not reached: ${[...reached].join(', ')}`);
  assert.deepEqual(page.troubles.filter(trouble => !/status of (409|422)/.test(trouble)), []);
});

test('no violation of WCAG 2.2 A and AA that axe-core finds, light and dark, at three sizes', async () => {
  for (const [colorScheme, width, height] of [['light', 1280, 800], ['dark', 1280, 800], ['light', 820, 1180], ['dark', 820, 1180], ['dark', 1920, 1080]]) {
    const other = await open(served.address, { bypassCSP: true, colorScheme });
    await other.setViewportSize({ width, height });
    await looked(other, 0);
    await other.locator('#line button', { hasText: 'ready' }).click();
    await other.click('#sheet-open');
    await other.waitForSelector('#sheet-lock_out');
    await other.evaluate(() => { for (const one of document.querySelectorAll('details')) one.open = true; });
    await other.waitForTimeout(500);
    await other.addScriptTag({ path: require.resolve('axe-core') });
    const found = await other.evaluate(async () => (await window.axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })).violations
      .map(one => `${one.id}: ${one.nodes.length}, ${one.nodes[0].html.slice(0, 120)}`));
    assert.deepEqual(found, [], `${colorScheme} ${width}`);
    await other.context().close();
  }
});

test('a cut connection is shown', async () => {
  const other = await serve(newJob()), window = await open(other.address);
  await looked(window, 0);
  await other.leave();
  await window.waitForFunction(() => !document.getElementById('cut').hidden, null, patience);
  await window.context().close();
});
