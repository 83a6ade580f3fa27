// The whole job through the page, as a person does it: captures dropped, a question of units answered, verdicts read,
// a stop set aside, settings and faults tried, commands rehearsed, texts changed, settings taken, the record written.
'use strict';
const test = require('node:test');
const assert = require('node:assert/strict');
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const { newJob, capture, serve, wireTo, open, closeBrowser } = require('./served.cjs');

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

test('what is typed outlasts a look at another file; what stood before can be put back and kept', async () => {
  const file = path.join(job, 'machine.toml'), first = fs.readFileSync(file, 'utf8');
  await page.selectOption('#text-name', 'machine.toml');
  await page.click('#text-read');
  await page.waitForFunction(text => document.getElementById('text').value === text, first);
  await page.fill('#text', `# half typed\n${first}`);
  await page.selectOption('#text-name', 'recordings.toml');
  await page.waitForFunction(() => /recordings.toml/.test(document.getElementById('text-words').textContent));
  await page.selectOption('#text-name', 'machine.toml');
  assert.equal(await page.inputValue('#text'), `# half typed\n${first}`);
  let before = await revision(page);
  await page.click('#text-keep');
  await looked(page, before);
  assert.equal(fs.readFileSync(file, 'utf8'), `# half typed\n${first}`);
  await page.click('#text-back');
  assert.equal(await page.inputValue('#text'), first);
  assert.equal(fs.readFileSync(file, 'utf8'), `# half typed\n${first}`);
  before = await revision(page);
  await page.click('#text-keep');
  await looked(page, before);
  assert.equal(fs.readFileSync(file, 'utf8'), first);
});

test('what is typed while the file is read stands', async () => {
  await page.route('**/ask/text*', async route => { await new Promise(resolve => setTimeout(resolve, 300)); await route.continue(); });
  await page.click('#text-read');
  await page.fill('#text', '# typed meanwhile');
  await page.waitForFunction(() => /You typed while/.test(document.getElementById('text-words').textContent));
  assert.equal(await page.inputValue('#text'), '# typed meanwhile');
  await page.unroute('**/ask/text*');
  await page.click('#text-read');
  await page.waitForFunction(() => /span/.test(document.getElementById('text').value));
});

test('two windows: news reaches both, and neither overwrites what the other kept', async () => {
  const file = path.join(job, 'machine.toml'), first = fs.readFileSync(file, 'utf8'), other = await open(served.address);
  await looked(other, 0);
  await other.locator('#texts-part summary').click();
  await other.waitForFunction(text => document.getElementById('text').value === text, first);
  const before = await revision(page), there = await revision(other);
  await page.click('#text-read');
  await page.fill('#text', `# by the first window\n${first}`);
  await page.click('#text-keep');
  await looked(page, before);
  await looked(other, there);
  await other.fill('#text', `# by the second window\n${first}`);
  await other.click('#text-keep');
  await other.waitForFunction(() => /changed meanwhile/.test(document.getElementById('text-words').textContent));
  assert.equal(fs.readFileSync(file, 'utf8'), `# by the first window\n${first}`);
  assert.equal(await other.inputValue('#text'), `# by the second window\n${first}`);
  await other.context().close();
  const last = await revision(page);
  fs.writeFileSync(file, first);
  await looked(page, last);
  await page.click('#text-read');
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
  await line('lock_out').locator('summary').click();
  await line('lock_out').locator('[name=note]').fill('half typed');
  await page.evaluate(() => { window.shownBefore = document.getElementById('sheet-lock_out'); });
  await page.click('#sheet-open');  // shown anew
  await page.waitForFunction(() => document.getElementById('sheet-lock_out') !== window.shownBefore);
  assert.equal(await line('lock_out').locator('[name=note]').inputValue(), 'half typed');
  assert.equal(await line('rail_parallelism').locator('[name=measured]').inputValue(), '12 kg');
  await line('lock_out').locator('[name=note]').fill('');
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
  await page.locator('#line button', { hasText: 'ready' }).click();
  await page.evaluate(() => {
    window.told = new Set();
    new MutationObserver(() => { for (const id of ['line', 'station', 'doing']) window.told.add(document.getElementById(id).innerText); })
      .observe(document.body, { subtree: true, childList: true, characterData: true });
  });
  await page.setInputFiles('#files', names.map(capture));
  await page.waitForFunction(() => document.querySelector('#settings-row') && !document.querySelector('#settings-row').hidden, null, patience);
  await looked(page, before);
  assert.deepEqual(fs.readdirSync(path.join(job, 'recordings')).sort(), names.sort());
  const told = await page.evaluate(() => [...window.told].join('\n'));
  assert.match(told, /This station uses .*(limits|fit).* and waits/);
  assert.match(told, /… at work/);
  assert.match(told, /station trips …|loops …/);
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

test('evidence: every finding that names a recording opens it at its span', async () => {
  const wrong = await page.evaluate(async () => {
    const { state } = await import('/kit.js'), { openRecording } = await import('/trace.js'), wrong = [];
    let seen = 0;
    for (const [name, station] of Object.entries(state.job.result.stations)) for (const finding of station.findings) {
      const recording = state.job.recordings.find(one => one.name === finding.recording);
      if (!recording) continue;
      ++seen;
      await openRecording(finding.recording, finding.from_s, finding.to_s);
      const sample = (recording.to_s - recording.from_s) / (recording.samples - 1), spanned = finding.from_s !== null && finding.to_s > finding.from_s;
      const [from, to] = spanned ? [Math.max(finding.from_s, recording.from_s), Math.min(finding.to_s, recording.to_s)] : [recording.from_s, recording.to_s];
      const trace = state.trace;
      if (trace.recording !== finding.recording || Math.abs(trace.from_s - from) > 1.01 * sample || Math.abs(trace.to_s - to) > 1.01 * sample)
        wrong.push(`${name}.${finding.id}: ${trace.recording} ${trace.from_s} to ${trace.to_s}, wanted ${from} to ${to}`);
    }
    return seen > 20 ? wrong : [`only ${seen} findings with a recording`];
  });
  assert.deepEqual(wrong, []);
});

test('a frequency response is looked at closer: bands, zoom, values at the line and differences in the person\'s units', async () => {
  await page.locator('#line button', { hasText: 'survey' }).click();
  const parts = page.locator('#station details.closer-part');
  assert.equal(await parts.count(), 4);  // share, resonances, sides, mean and skew
  const part = parts.nth(3), said = () => part.locator('ul').innerText();
  await part.locator('summary').click();
  await page.waitForFunction(() => /mean by the sum, measured: [\d.e-]+ mm\/N at [\d.]+ Hz \([\d.e-]+ to [\d.e-]+ mm\/N\)/.test(document.querySelectorAll('#station details.closer-part ul')[3].innerText));
  assert.match(await said(), /skew by the fight, model: [\d.e-]+ mm\/N at [\d.]+ Hz \([\d.e-]+ to [\d.e-]+ mm\/N\)/);
  assert.match(await said(), /phase, measured: -?[\d.]+ ° at/);
  await part.locator('select').selectOption({ label: 'skew by the fight, mm/N' });
  const canvas = part.locator('canvas');
  await canvas.focus();
  await part.getByRole('button', { name: 'Hold this place' }).click();
  await canvas.focus();
  for (let i = 0; i < 10; ++i) await page.keyboard.press('ArrowRight');
  assert.match(await said(), /from the held place [\d.]+ Hz, -?[\d.e-]+ mm\/N, [\d.e-]+ times/);
  const drawn = () => canvas.evaluate(one => one.toDataURL());
  const whole = await drawn();
  await page.keyboard.press('+');
  assert.notEqual(await drawn(), whole);
  await page.keyboard.press('Home');
  await part.locator('summary').click();
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
  assert.match(await words(page, 'trace-words'), /^Virtual run/);
  await page.setViewportSize({ width: 1180, height: 820 });  // a tablet turned: what plays stays
  await page.waitForTimeout(400);
  assert.match(await words(page, 'trace-words'), /^Virtual run/);
  await page.setViewportSize({ width: 1280, height: 800 });
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
  const sheet = path.join(job, 'ready.toml'), unstopped = await revision(page);
  await page.evaluate(async () => (await import('/kit.js')).post('/ready-sheet', {}));
  fs.writeFileSync(sheet, fs.readFileSync(sheet, 'utf8').replace(/(\[check\.lock_out\]\nseen = )""/, '$1"no"'));
  await looked(page, unstopped);
  await page.waitForFunction(() => /stop/.test(document.getElementById('verdict').textContent), null, patience);
  await page.locator('#line button', { hasText: 'ready' }).click();
  await page.fill('#override-by', 'the check');
  await page.fill('#override-reason', 'bridge held by hand,');
  const first = await revision(page), machine = path.join(job, 'machine.toml');
  fs.appendFileSync(machine, '\n# news while a reason is half typed\n');
  await looked(page, first);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'override-reason');
  await page.keyboard.type(' checked twice');
  assert.equal(await page.inputValue('#override-reason'), 'bridge held by hand, checked twice');
  const before = await revision(page);
  await page.click('#override [type=submit]');
  await looked(page, before);
  await page.waitForFunction(() => /Set aside by/.test(document.getElementById('station').innerText), null, patience);
  assert.match(await words(page, 'station'), /Set aside by the check: bridge held by hand, checked twice/);
  const stopped = await revision(page);
  fs.rmSync(sheet);
  await looked(page, stopped);
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

test('the settings that were read are accepted by name; others are not', async () => {
  const held = await page.evaluate(async () => (await (await import('/kit.js')).ask('/ask/settings')).held_by);
  if (held.length) return assert.equal(await page.locator('#accept button').isDisabled(), true);
  const answers = await page.evaluate(async () => {
    const { post } = await import('/kit.js');
    const nameless = await post('/record', { accept: 'x' }).catch(error => error.status);
    return { nameless, other: await post('/record', { accept: 'of other settings', by: 'the check' }) };
  });
  assert.equal(answers.nameless, 422);
  assert.equal(answers.other.accepted_by, '');
  assert.match(answers.other.remarks.join(), /others by now than those that were read/);
  await page.fill('#accept-by', 'the check');
  await page.click('#accept [type=submit]');
  await page.waitForFunction(() => /accepted by the check/.test(document.getElementById('accept-words').textContent), null, patience);
  await page.waitForFunction(() => /These settings are accepted by the check/.test(document.getElementById('accepted').textContent), null, patience);
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

test('a cut connection is shown, what is typed stays, and it recovers by itself', async () => {
  const wire = await wireTo(served.address), window = await open(wire.address);
  await looked(window, 0);
  await window.locator('#texts-part summary').click();
  await window.waitForFunction(() => document.getElementById('text').value.length > 0);
  await window.fill('#text', '# typed before the cut');
  await wire.cut();
  await window.waitForFunction(() => !document.getElementById('cut').hidden, null, patience);
  const before = await revision(window);
  fs.appendFileSync(path.join(job, 'machine.toml'), '\n# while the connection was cut\n');
  await wire.mend();
  await window.waitForFunction(() => document.getElementById('cut').hidden, null, patience);
  await looked(window, before);
  assert.equal(await window.inputValue('#text'), '# typed before the cut');
  await window.context().close();
  await wire.cut();
});

test('a program that has stopped answering is shown as cut, and again as there', async () => {
  const window = await open(served.address);
  await looked(window, 0);
  served.pause();
  await window.waitForFunction(() => !document.getElementById('cut').hidden, null, patience);
  served.resume();
  await window.waitForFunction(() => document.getElementById('cut').hidden, null, patience);
  await window.context().close();
});
