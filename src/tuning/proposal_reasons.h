#pragma once
// Why there are no settings, and what holds down those that were found. Internal to tuning.
#include <optional>
#include <string>

#include "tuning/proposal.h"

namespace evenbeam::tuning {

std::string none_meets(double promised_sensitivity, const std::optional<Nearest>& nearest);
std::string binding_of(const Proposal& proposal, double noise_limit_n, double measured_y_m);

}  // namespace evenbeam::tuning
