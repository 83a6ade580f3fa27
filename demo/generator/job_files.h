#pragma once
// The job folder's texts: machine.toml from the papers, recordings.toml from what was done, truth.json from the
// truth.
#include <string>
#include <vector>

#include "campaign.h"

namespace generator {

std::string machine_toml(const Campaign& campaign);
std::string recordings_toml(const Campaign& campaign, const std::vector<PlannedCapture>& captures);
// squareness.toml with its tables, where the campaign has it.
std::optional<MeasuredSquareness> squareness_of(const Campaign& campaign);
// Everything the program should find, under the keys of its results, plus the whole truth of the machine.
std::string truth_json(const Campaign& campaign, const std::vector<PlannedCapture>& captures);

}  // namespace generator
