// The check sheet before the first push, line by line. A line that is kept is written into ready.toml where it stands;
// every other byte stays, the program checks the whole text, and a sheet that changed meanwhile is not overwritten.
import { ask, at, button, made, post, renew, state, verdictWord } from './kit.js';
import { openText } from './texts.js';

const fields = { seen: 'Seen', measured: 'Measured, with its unit', instrument: 'Instrument', error: 'Its doubt, plus or minus', by: 'Who', note: 'Note' };
let sheet = null;  // { text, seen } as the program gave it last

const keyLine = key => new RegExp(`^(\\s*${key}\\s*=\\s*)("(?:[^"\\\\]|\\\\.)*")(.*)$`);

// The lines of the sheet: name, words before it, first and last row, and its values; null where written in another way.
function linesOf(text) {
  const rows = text.split('\n'), lines = [];
  for (let i = 0; i < rows.length; ++i) {
    const name = /^\s*\[check\.([a-z0-9_]+)\]/.exec(rows[i]);
    if (!name) continue;
    let first = i, last = i;
    while (first > 0 && rows[first - 1].startsWith('#')) --first;
    for (let k = i + 1; k < rows.length && !/^\s*\[/.test(rows[k]); ++k) if (/^\s*[a-z_]+\s*=/.test(rows[k])) last = k;
    const values = {};
    for (const row of rows.slice(i + 1, last + 1)) {
      const key = /^\s*([a-z_]+)\s*=/.exec(row)[1], found = keyLine(key).exec(row);
      try { values[key] = found ? JSON.parse(found[2]) : null; } catch { values[key] = null; }
    }
    lines.push({ name: name[1], words: rows.slice(first, i).map(row => row.replace(/^# ?/, '')), head: i, last, values });
  }
  return lines;
}

function withValue(rows, line, key, value) {
  for (let i = line.head + 1; i <= line.last; ++i) {
    const found = keyLine(key).exec(rows[i]);
    if (found) { rows[i] = found[1] + JSON.stringify(value) + found[3]; return; }
  }
  if (value) rows[line.last] += `\n${key} = ${JSON.stringify(value)}`;
}

// Told where the line stands by now: the sheet may have been shown anew since.
function tell(name, words) {
  const place = document.querySelector(`#sheet-${name} [role=status]`);
  if (place) place.textContent = words;
}

async function keepLine(line, form) {
  const rows = sheet.text.split('\n'), now = linesOf(sheet.text).find(one => one.name === line.name);
  if (!now) { tell(line.name, 'This line is no longer in the sheet. Read it again.'); return; }
  for (const input of form.elements) if (input.name && !input.disabled) withValue(rows, now, input.name, input.value.trim());
  try {
    const kept = await ask('/texts/ready.toml', { method: 'PUT', body: JSON.stringify({ text: rows.join('\n'), seen: sheet.seen }) });
    sheet = { text: kept.text, seen: kept.seen };
    showSheet(line.name);
  } catch (error) {
    if (error.status === 409) return changedMeanwhile(line, error.answer);
    tell(line.name, error.answer && error.answer.troubles ? error.answer.troubles.map(one => `Found ${one.found}; expected ${one.expected}. ${one.next}`).join(' ') : error.message);
  }
}

// What was typed stays; kept anew, it goes into the sheet as it is now.
function changedMeanwhile(line, { text, seen }) {
  sheet = { text, seen };
  showSheet();
  const now = linesOf(text).find(one => one.name === line.name), says = now && (now.values.seen || now.values.measured);
  tell(line.name, `The sheet was changed meanwhile; nothing was written. It is read again${says ? ` and says ${says} here` : ''}: keep this line once more if it still holds.`);
}

function lineForm(line, open) {
  const main = 'seen' in line.values ? 'seen' : 'measured', value = line.values[main];
  const words = made('p', { className: 'quiet', role: 'status' });
  const inputs = Object.entries(fields).filter(([key]) => key === main || !['seen', 'measured'].includes(key) && (main === 'measured' || !['instrument', 'error'].includes(key))).map(([key, label]) => {
    const written = line.values[key], unreadable = written === null;
    const input = key === 'seen' ? made('select', { name: key, disabled: unreadable }, ...['', 'yes', 'no'].map(word => made('option', { value: word, selected: word === written }, word || 'not done yet')))
      : made('input', { name: key, value: written || '', disabled: unreadable });
    input.dataset.written = input.value;
    return made('label', {}, `${label} `, input);
  });
  const form = made('form', {}, ...inputs, made('button', { type: 'submit' }, 'Keep this line'), words);
  form.onsubmit = event => { event.preventDefault(); keepLine(line, form); };
  const result = state.job.result.stations.ready, found = result && value ? result.findings.find(one => one.id === line.name) : null;
  const summary = made('summary', {}, `${line.words[0] || line.name}: ${value || (value === null ? 'see the file' : 'not done yet')} `, found ? verdictWord(found.verdict) : '');
  return made('details', { open, id: `sheet-${line.name}` }, summary, made('p', { className: 'quiet' }, line.words.slice(1).join(' ')), found ? made('p', {}, found.text) : '', form);
}

// What is typed and not kept yet, and which lines stand open: they outlast the sheet's being shown anew.
function halfTyped() {
  return [...at('sheet').querySelectorAll('details')].map(part => ({ id: part.id, open: part.open,
    values: [...part.querySelectorAll('[name]')].filter(input => input.value !== input.dataset.written).map(input => [input.name, input.value]) }));
}
function typeAgain(before, kept) {
  for (const { id, open, values } of before) {
    const part = document.getElementById(id);
    if (!part || id === kept) continue;
    part.open ||= open;
    for (const [name, value] of values) { const input = part.querySelector(`[name=${name}]`); if (input) input.value = value; }
  }
}

function showSheet(openName) {
  const before = halfTyped();
  const lines = linesOf(sheet.text), done = lines.filter(line => line.values.seen || line.values.measured).length;
  const next = openName && lines[lines.findIndex(line => line.name === openName) + 1];
  renew(at('sheet'), made('h3', {}, `Check sheet: ${done} of ${lines.length} lines filled in`),
    made('p', { className: 'quiet' }, 'Drives off and locked out whenever hands are in the machine. A stop of this station is set aside below, with a written reason.'),
    ...lines.map(line => lineForm(line, line === next)), button('The sheet as a text', () => openText('ready.toml')));
  typeAgain(before, openName && `sheet-${openName}`);
  if (next) at(`sheet-${next.name}`).querySelector('summary').focus();
}

async function readSheet() {
  try {
    await post('/ready-sheet', {});  // begins it, or adds the lines that it lacks
    const got = await ask('/ask/text?name=ready.toml');
    sheet = { text: got.text, seen: got.seen };
    showSheet();
  } catch (error) { at('sheet').replaceChildren(made('p', {}, error.message)); }
}

export function showSheetPart() { at('sheet-part').hidden = state.station !== 'ready'; }
export function beginSheet() { at('sheet-open').onclick = readSheet; }
