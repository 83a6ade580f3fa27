#include "server/leave_signals.h"

#include <pthread.h>

#include <csignal>

namespace evenbeam::server {

namespace {

sigset_t leave_set() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

}  // namespace

void hold_leave_signals() {
  const sigset_t set = leave_set();
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
}

LeaveSignals::LeaveSignals(std::function<void()> leave) {
  thread_ = std::thread([leave = std::move(leave)] {
    const sigset_t set = leave_set();
    int signal = 0;
    sigwait(&set, &signal);
    leave();
  });
}

LeaveSignals::~LeaveSignals() {
  pthread_kill(thread_.native_handle(), SIGTERM);  // to the waiting thread alone; harmless where it has ended
  thread_.join();
}

}  // namespace evenbeam::server
