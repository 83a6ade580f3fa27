// What every part of the page shares: asking the program, making elements, the person's units, the state shown.
export const token = new URLSearchParams(location.search).get('token') || '';
export const at = id => document.getElementById(id);

// job: the program's last answer; trace: what is drawn; place: 0 to 1 in it; held: a place kept for differences.
export const state = { job: null, station: null, revision: -1, trace: null, view: null, place: 0, held: null };

export class Refused extends Error {
  constructor(status, answer) {
    super(answer.message || `The program answered ${status}.`);
    this.status = status;
    this.answer = answer;
  }
}

export async function ask(path, options = {}) {
  const answer = await fetch(path, { ...options, headers: { 'X-Evenbeam-Token': token, ...(options.headers || {}) } });
  const json = await answer.json();
  if (!answer.ok) throw new Refused(answer.status, json);
  return json;
}
export const post = (path, body) => ask(path, { method: 'POST', body: JSON.stringify(body) });

export function made(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(properties))
    if (key in element) element[key] = value; else element.setAttribute(key, value);
  element.append(...children);
  return element;
}
export const pairs = rows => made('dl', {}, ...rows.flatMap(([key, value]) => [made('dt', {}, key), made('dd', {}, value)]));
export function button(words, task) {
  const element = made('button', { type: 'button' }, words);
  element.onclick = task;
  return element;
}
// The list's entries as options; the choice made before stays where it still exists.
export function offer(select, words) {
  const before = select.value;
  select.replaceChildren(...words.map(word => made('option', { value: word }, word)));
  if (words.includes(before)) select.value = before;
}

// New content in its place; what has the focus keeps it and its caret, where it stays in the page.
export function renew(holder, ...parts) {
  const focus = document.activeElement, inside = holder.contains(focus);
  const caret = inside && typeof focus.selectionStart === 'number' ? [focus.selectionStart, focus.selectionEnd] : null;
  holder.replaceChildren(...parts);
  if (!inside || !holder.contains(focus)) return;
  focus.focus({ preventScroll: true });
  if (caret) focus.setSelectionRange(...caret);
}

// ---- units: SI in, the person's out; only a factor and the digits
const shownUnits = { m: { mm: 1e3, um: 1e6, m: 1, in: 1 / 0.0254 } };
export function shown(value, unit) {
  if (value === null || value === undefined || !Number.isFinite(value)) return 'unknown';
  if (Math.abs(value) < 1e-12) value = 0;  // what is left of a difference of equal numbers
  let factor = 1, symbol = unit === '1' ? '' : unit || '';
  if (unit === 'm') {
    symbol = state.job.units.length;
    if (symbol === 'mm' && Math.abs(value) < 5e-4) symbol = 'um';
    factor = shownUnits.m[symbol] || 1;
    if (!(symbol in shownUnits.m)) symbol = 'm';
  } else if (unit === 'N' && Math.abs(value) < 0.05) value = 0;
  const number = value * factor;
  const digits = Math.abs(number) >= 1e5 || (number !== 0 && Math.abs(number) < 1e-3) ? number.toExponential(3) : String(Number(number.toPrecision(4)));
  return symbol ? `${digits} ${symbol.replace('um', 'µm')}` : digits;
}

// A key of result.json in words: its unit stands beside the number.
export const keyWords = key => key.replace(/_(n_m_s_per_rad|n_m_per_rad|n_s_per_m|n_per_m|m_per_s|per_s|kg_m2|n_m|kg|hz|rad|m|n|s)$/, '').replaceAll('_', ' ');

export const verdictClass = verdict => verdict === 'not done' ? 'none' : verdict;
export const verdictSign = { pass: '✓', attention: '!', stop: '✕', 'not done': '–' };
export function verdictWord(verdict) {
  return made('span', { className: `word ${verdictClass(verdict)}` }, `${verdictSign[verdict]} ${verdict}`);
}

export const channelNamed = (trace, name) => trace && trace.channels.find(channel => channel.name === name);
export function valueAt(trace, name, place) {
  const channel = channelNamed(trace, name);
  if (!channel || !channel.low.length) return null;
  const i = Math.min(channel.low.length - 1, Math.round(place * (channel.low.length - 1)));
  return channel.low[i] === null ? null : (channel.low[i] + channel.high[i]) / 2;
}
