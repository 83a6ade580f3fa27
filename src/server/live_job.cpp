#include "server/live_job.h"

#include <chrono>
#include <exception>

namespace evenbeam::server {

namespace {

constexpr auto look_every = std::chrono::milliseconds(300);

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
    evaluation = std::make_shared<workflow::Evaluation>(
        workflow::look_at(disk_, places_, workflow::stations(), [this](const std::string& doing) { say(doing); }));
  } catch (const std::exception& error) {
    trouble = error.what();
  }
  const std::lock_guard lock(guard_);
  if (evaluation) snapshot_.evaluation = std::move(evaluation);
  snapshot_.trouble = trouble;
  ++snapshot_.revision;
  doing_.clear();
  news_.notify_all();
}

void LiveJob::watch() {
  std::string seen = "never";
  while (true) {
    const std::string now = base::state_of_folder(places_.job) + base::state_of_folder(places_.recordings);
    bool again = false;
    {
      std::unique_lock lock(guard_);
      if (leaving_) return;
      again = std::exchange(again_, false);
    }
    if (again || now != seen) {
      seen = now;
      evaluate_once();
    }
    std::unique_lock lock(guard_);
    news_.wait_for(lock, look_every, [this] { return leaving_ || again_; });
  }
}

}  // namespace evenbeam::server
