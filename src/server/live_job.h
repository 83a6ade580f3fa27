#pragma once
// The job as it stands, looked at anew whenever its folder changes: one thread watches and evaluates, readers take
// whole snapshots. A folder that cannot be read leaves the last good evaluation in place and says why.
#include <condition_variable>
#include <memory>
#include <mutex>
#include <string>
#include <thread>

#include "workflow/commission.h"

namespace evenbeam::server {

struct Snapshot {
  long revision = 0;                                       // rises with every new evaluation or trouble
  std::shared_ptr<const workflow::Evaluation> evaluation;  // the last whole one; nullptr before the first
  std::shared_ptr<const workflow::Evaluation> so_far;      // of the one under way; nullptr where none is
  std::string trouble;  // why the newest state could not be evaluated; empty = none
};

// A class: it owns the watching thread, and the snapshot changes under one lock.
class LiveJob {
 public:
  LiveJob(const base::Disk& disk, workflow::Places places);
  ~LiveJob();
  LiveJob(const LiveJob&) = delete;
  LiveJob& operator=(const LiveJob&) = delete;

  Snapshot snapshot() const;
  std::string doing() const;  // what is being computed now; empty = nothing
  // Waits until the revision or what is being done differs from what was seen, or the time is up, or it is leaving.
  void wait_for_news(long seen_revision, const std::string& seen_doing, int milliseconds) const;
  void look_again();  // even where the folder looks the same
  // Commissions the folder as it is now, with what is known already, and shows that evaluation.
  workflow::Commissioned commission(base::Disk& disk, const workflow::CommissionRequest& request);
  void leave();  // wakes all waiters and ends the thread

 private:
  void watch();
  std::string folder_state() const;
  void evaluate_once();
  void say(const std::string& doing);
  void share(const std::shared_ptr<const workflow::Evaluation>& evaluation);
  void show(workflow::Evaluation so_far);

  const base::Disk& disk_;
  const workflow::Places places_;
  std::mutex evaluating_;  // one evaluation at a time; guards kept_
  workflow::Kept kept_;    // what the next one need not do again
  mutable std::mutex guard_;
  mutable std::condition_variable news_;
  Snapshot snapshot_;
  std::string doing_, seen_ = "never";  // the folder's state at the last look
  bool again_ = false, leaving_ = false;
  std::thread thread_;
};

}  // namespace evenbeam::server
