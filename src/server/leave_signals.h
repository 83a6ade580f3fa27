#pragma once
// Ctrl-C and SIGTERM as an ordinary call. To be made before any other thread is started: they inherit the mask.
#include <functional>
#include <thread>

namespace evenbeam::server {

class LeaveSignals {
 public:
  explicit LeaveSignals(std::function<void()> leave);
  ~LeaveSignals();  // ends the wait where no signal came
  LeaveSignals(const LeaveSignals&) = delete;
  LeaveSignals& operator=(const LeaveSignals&) = delete;

 private:
  std::thread thread_;
};

// Blocks both for this thread and those it will start.
void hold_leave_signals();

}  // namespace evenbeam::server
