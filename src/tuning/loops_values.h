#pragma once
// What station loops hands on, under the keys of docs/formats.md, "Values of loops".
#include "base/finding.h"
#include "tuning/loops_report.h"

namespace evenbeam::tuning {

void put_values(base::StationResult& result, const LoopsReport& report);

}  // namespace evenbeam::tuning
