// Trying settings and faults on the virtual gantry. The program computes; the page asks and shows.
import { at, button, made, offer, pairs, post, shown, state } from './kit.js';
import { drawTrace, showVirtual } from './trace.js';

const ranges = form => form.querySelectorAll('input[type=range]');
function showRanges(form) { for (const input of ranges(form)) input.nextElementSibling.textContent = input.value; }

let settingsAsked = 0;
async function trySettings() {
  showRanges(at('try'));
  const number = ++settingsAsked;
  try {
    const tried = await post('/ask/forecast', { move: at('try-move').value, mean_gain: +at('try-mean').value, skew_gain: +at('try-skew').value,
      share: at('try-share-own').checked ? +at('try-share').value : undefined, carriage_y_m: +at('try-y').value, payload_kg: +at('try-payload').value });
    if (number === settingsAsked) showTried(tried);
  } catch (error) { if (number === settingsAsked) at('tried').replaceChildren(made('p', {}, error.message)); }
}

function showTried(tried) {
  if (!tried.stable) {
    at('tried').replaceChildren(made('p', { className: 'stop' }, made('strong', {}, '✕ unstable: these loops would run away.')));
    drawTrace(at('tried-trace'), null, 0, 1, []);
    return;
  }
  const over = tried.allowable_skew_m !== null && tried.peak_skew_m > tried.allowable_skew_m;
  const weak = tried.peak_sensitivity > 1.7;
  at('tried').replaceChildren(
    made('p', { className: over || weak ? 'stop' : 'pass' }, made('strong', {}, `${over ? '✕' : weak ? '!' : '✓'} peak skew error ${shown(tried.peak_skew_m, 'm')}`)),
    pairs([['allowable skew', shown(tried.allowable_skew_m, 'm')],
      ['peak sensitivity', `${shown(tried.peak_sensitivity, '1')} (at most 1.7 promised)`],
      ['guide moment', `${shown(tried.peak_guide_moment_n_m, 'N·m')} of ${shown(tried.allowable_yaw_moment_n_m, 'N·m')} allowed`],
      ['largest force', `${(100 * tried.peak_force_part).toFixed(0)} % of peak`],
      ['settles in', shown(tried.settle_s, 's')], ['share of A', shown(tried.share, '1')]]),
    made('p', { className: 'quiet' }, 'The fitted model alone: cogging, pitch error and what was not measured are not in it.'));
  drawTrace(at('tried-trace'), tried.channels[0] || null, tried.from_s, tried.to_s, []);
}

async function tryFault(event) {
  event.preventDefault();
  at('fault-words').replaceChildren(made('p', {}, 'running …'));
  try {
    const ran = await post('/ask/fault', { move: at('fault-move').value, fault: at('fault-kind').value, reaction: at('fault-reaction').value, side: at('fault-side').value,
      at_part: at('fault-at').value / 100, latency_s: at('fault-late').value / 1000, carriage_y_m: +at('fault-y').value, payload_kg: +at('fault-payload').value });
    showFault(ran);
  } catch (error) { at('fault-words').replaceChildren(made('p', {}, error.message)); }
}

function showFault(ran) {
  const over = ran.allowable_skew_m !== null && ran.peak_skew_m > ran.allowable_skew_m;
  const marks = [{ t: ran.fault_s, words: 'fault' }];
  const play = () => showVirtual(`${ran.fault}, ${ran.reaction}`, ran, marks);
  at('fault-words').replaceChildren(
    made('p', { className: ran.allowable_skew_m === null ? 'attention' : over ? 'stop' : 'pass' }, made('strong', {},
      `${over ? '✕ beyond what guides and mountings take: ' : ran.allowable_skew_m === null ? '! ' : '✓ '}peak skew ${shown(ran.peak_skew_m, 'm')}`)),
    pairs([['allowable skew', shown(ran.allowable_skew_m, 'm')],
      ['guide moment', `${shown(ran.guide_moment_n_m, 'N·m')} of ${shown(ran.allowable_yaw_moment_n_m, 'N·m')} allowed`],
      ['seen by a trip or the drive', ran.seen ? 'yes' : 'no: nothing reacts'],
      ['stands after', ran.reached_standstill ? `${shown(ran.stop_s, 's')}, ${shown(ran.stop_way_m, 'm')}` : 'not within the run']]),
    button('Play it again', play),
    made('p', { className: 'quiet' }, `One case, not the worst one; station trips searches for that. Assumed: ${ran.assumed.join('; ')}.`));
  play();
}

export function showTrying() {
  const job = state.job, bridge = job.bridge;
  for (const id of ['try-part', 'fault-part']) at(id).hidden = !job.can_try;
  if (!job.can_try) return;
  const fresh = !at('try-move').value;
  offer(at('try-move'), job.moves_to_try);
  offer(at('fault-move'), job.moves_for_faults);
  offer(at('fault-kind'), job.faults);
  offer(at('fault-reaction'), job.reactions);
  for (const id of ['try-y', 'fault-y']) {
    at(id).min = bridge.carriage_min_y_m; at(id).max = bridge.carriage_max_y_m;
    if (fresh) at(id).value = 0;
  }
  at('fault-part').hidden = !job.moves_for_faults.length;
  showRanges(at('fault'));
  trySettings();
}

export function beginTrying() {
  at('try').oninput = trySettings;
  at('try').onreset = () => setTimeout(trySettings);
  at('fault').oninput = () => showRanges(at('fault'));
  at('fault').onsubmit = tryFault;
}
export const redrawTried = () => { if (state.job && state.job.can_try) trySettings(); };
