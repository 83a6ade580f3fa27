// The page: shows what the program computed, and draws it. No physics here. Keeps up with the job's folder.
import { showBridge } from './bridge.js';
import { ask, at, offer, state, token, verdictClass, verdictSign } from './kit.js';
import { beginRecord, showSettings } from './record.js';
import { beginSession, showSession } from './session.js';
import { beginSheet } from './sheet.js';
import { beginTexts, showQuestions, showTexts } from './texts.js';
import { beginTraces, loadTrace, openRecording, showTrace } from './trace.js';
import { beginTrying, redrawTried, showTrying } from './trying.js';
import { showLine, showNext, showStation } from './work.js';

function showTrouble(words) {
  at('trouble').hidden = !words;
  at('trouble').textContent = words;
}

// One at a time; news that comes meanwhile is looked at next.
let refreshing = null, newer = false;
function refresh() {
  newer = true;
  refreshing ??= (async () => {
    try { while (newer) { newer = false; await showJob(); } } finally { refreshing = null; }
  })();
  return refreshing;
}

async function showJob() {
  const job = await ask('/ask/job');
  showTrouble(job.trouble);
  state.revision = job.revision;
  if (!job.result) return;
  const firstTime = !state.job;
  state.job = job;
  document.title = `${job.job}: ${job.verdict}`;
  at('job').textContent = job.job;
  at('verdict').className = `verdict ${verdictClass(job.verdict)}`;
  at('verdict').textContent = `${verdictSign[job.verdict]} ${job.verdict}${job.pending.length ? `, ${job.pending.length} stations still at work` : ''}`;
  at('report').href = `/report?token=${token}`;
  if (!state.station) state.station = job.next.station || job.line[0].name;
  showNext(); showLine(); showStation(); showQuestions(); showTexts();
  if (!job.pending.length || firstTime) { showTrying(); showSession(); showSettings(); }  // these stay on the last whole evaluation
  const before = at('recording').value;
  offer(at('recording'), job.recordings.map(one => one.name));
  if (!job.recordings.length) showBridge();
  else if (!job.recordings.some(one => one.name === before)) await openRecording(job.recordings[job.recordings.length - 1].name);
  else if (!state.trace || !state.trace.virtual) await loadTrace();
  document.documentElement.dataset.newest = job.revision;  // what is shown by now
  if (!job.pending.length) document.documentElement.dataset.revision = job.revision;
}

// The program tells of itself every five seconds; silence of more than two beats is a cut too.
const silence_ms = 11000;
let heard = 0;
function listen() {
  const news = new EventSource(`/ask/news?token=${token}`);
  const waitForBeat = () => { clearTimeout(heard); heard = setTimeout(() => { at('cut').hidden = false; }, silence_ms); };
  waitForBeat();
  news.onmessage = event => {
    waitForBeat();
    at('cut').hidden = true;
    const { revision, doing } = JSON.parse(event.data);
    at('doing').textContent = doing ? `${doing} …` : '';
    if (revision !== state.revision && revision > 0) refresh().catch(error => showTrouble(error.message));
  };
  news.onerror = () => {
    at('cut').hidden = false;
    if (news.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  };
}

beginTraces(); beginTrying(); beginSession(); beginTexts(); beginSheet(); beginRecord();
addEventListener('resize', () => {
  if (!state.job) return;
  if (state.trace && state.trace.virtual) showTrace(); else loadTrace();
  redrawTried();
});
listen();
