#include "server/live_job.h"

#include <chrono>
#include <exception>
#include <utility>

namespace evenbeam::server {

namespace {

constexpr auto look_every = std::chrono::milliseconds(300);

// Stations still at work keep what they said before the change, or say that they are at work.
void fill_pending(workflow::Evaluation& so_far, const workflow::Evaluation* before) {
  for (const std::string& name : so_far.pending) {
    base::StationOutcome outcome{.result = {.name = name}};
    outcome.result.findings = {{.id = "at_work", .text = "It is being evaluated."}};
    if (before != nullptr)
      for (const base::StationOutcome& old : before->stations)
        if (old.result.name == name) outcome = old;
    so_far.stations.push_back(std::move(outcome));
  }
}

}  // namespace

LiveJob::LiveJob(const base::Disk& disk, workflow::Places places) : disk_(disk), places_(std::move(places)) {
  thread_ = std::thread([this] { watch(); });
}

LiveJob::~LiveJob() {
  leave();
  thread_.join();
}

Snapshot LiveJob::snapshot() const {
  const std::lock_guard lock(guard_);
  return snapshot_;
}

std::string LiveJob::doing() const {
  const std::lock_guard lock(guard_);
  return doing_;
}

void LiveJob::wait_for_news(long seen_revision, const std::string& seen_doing, int milliseconds) const {
  std::unique_lock lock(guard_);
  news_.wait_for(lock, std::chrono::milliseconds(milliseconds),
                 [&] { return leaving_ || snapshot_.revision != seen_revision || doing_ != seen_doing; });
}

void LiveJob::look_again() {
  const std::lock_guard lock(guard_);
  again_ = true;
  news_.notify_all();
}

void LiveJob::leave() {
  const std::lock_guard lock(guard_);
  leaving_ = true;
  news_.notify_all();
}

void LiveJob::say(const std::string& doing) {
  const std::lock_guard lock(guard_);
  doing_ = doing;
  news_.notify_all();
}

void LiveJob::evaluate_once() {
  std::shared_ptr<const workflow::Evaluation> evaluation;
  std::string trouble;
  try {
    const std::lock_guard lock(evaluating_);
    evaluation = std::make_shared<workflow::Evaluation>(workflow::look_at(
        disk_, places_, workflow::stations(), [this](const std::string& doing) { say(doing); }, &kept_,
        [this](workflow::Evaluation partial) { show(std::move(partial)); }));
    share(evaluation);
  } catch (const std::exception& error) {
    trouble = error.what();
  }
  const std::lock_guard lock(guard_);
  if (evaluation) snapshot_.evaluation = std::move(evaluation);
  snapshot_.so_far.reset();
  snapshot_.trouble = trouble;
  ++snapshot_.revision;
  doing_.clear();
  news_.notify_all();
}

// What is shown lends its captures to the next evaluation: they are in memory once while nothing is at work.
void LiveJob::share(const std::shared_ptr<const workflow::Evaluation>& evaluation) {
  workflow::share_captures(kept_, {evaluation, &evaluation->recordings});
}

std::string LiveJob::folder_state() const {
  std::string state = base::state_of_folder(places_.job) + base::state_of_folder(places_.recordings);
  for (const char* tables : {"positioning", "squareness"})
    state += base::state_of_folder(base::join_path(places_.job, tables));
  return state;
}

void LiveJob::show(workflow::Evaluation so_far) {
  if (so_far.pending.empty()) return;  // the whole one follows at once
  auto shown = std::make_shared<workflow::Evaluation>(std::move(so_far));
  const std::lock_guard lock(guard_);
  fill_pending(*shown, snapshot_.evaluation.get());
  snapshot_.so_far = std::move(shown);
  ++snapshot_.revision;
  news_.notify_all();
}

workflow::Commissioned LiveJob::commission(base::Disk& disk, const workflow::CommissionRequest& request) {
  const std::lock_guard evaluating(evaluating_);
  const auto quiet = [](const std::string&) {};
  workflow::Commissioned done = workflow::commission(disk, request, workflow::stations(), quiet, &kept_);
  auto taken = std::make_shared<workflow::Evaluation>(done.evaluation);
  share(taken);
  const std::string state = folder_state();
  const std::lock_guard lock(guard_);
  snapshot_ = {.revision = snapshot_.revision + 1, .evaluation = std::move(taken)};
  seen_ = state;
  again_ = false;
  news_.notify_all();
  return done;
}

// The wish to look again is taken before the folder's state: what was written before it is then part of that state.
void LiveJob::watch() {
  while (true) {
    bool look = false;
    {
      const std::lock_guard lock(guard_);
      if (leaving_) return;
      look = std::exchange(again_, false);
    }
    const std::string now = folder_state();
    {
      const std::lock_guard lock(guard_);
      look = look || now != seen_;
      seen_ = now;
    }
    if (look) evaluate_once();
    std::unique_lock lock(guard_);
    news_.wait_for(lock, look_every, [this] { return leaving_ || again_; });
  }
}

}  // namespace evenbeam::server
