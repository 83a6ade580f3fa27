#pragma once
// Findings and figures of station `survey`.
#include <vector>

#include "identification/survey_station.h"

namespace evenbeam::identification {

base::Finding mass_finding(const math::Estimate& mass_kg, const machine::Machine& machine, const SurveyInput& input);
base::Finding carriage_finding(const MotionFit& motion);
base::Finding share_finding(const std::vector<SharePlace>& places, const machine::Machine& machine,
                            const MotionFit& motion);
base::Finding budget_finding(const std::optional<ForceBudget>& budget, const machine::Machine& machine,
                             const MotionFit& motion);
std::vector<base::Finding> mode_findings(const std::vector<SurveyMode>& modes, const SurveyInput& input,
                                         const std::vector<recording::Recording>& recordings);
base::Finding response_finding(const SurveyInput& input, const std::vector<recording::Recording>& recordings);

// Frequencies over the carriage's place: what was read with its interval, the plant's word elsewhere.
base::Figure modes_figure(const std::vector<ModePlace>& places, const std::vector<SurveyMode>& modes);
base::Figure share_figure(const std::vector<SharePlace>& places, const MotionFit& motion);

}  // namespace evenbeam::identification
