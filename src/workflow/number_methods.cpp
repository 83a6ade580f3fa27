#include "workflow/number_methods.h"

#include <algorithm>
#include <array>

namespace evenbeam::workflow {
namespace {

struct Method {
  std::string_view station, key;  // a key that ends in * stands for all that begin so
  std::string_view how;
};

constexpr std::string_view kFit =
    "least squares: covariance with Student's t, widened for neighbours that are alike and for what the law leaves "
    "(GUM, first order); scored on random machines";
constexpr std::string_view kChosen = "chosen, exact; nothing is estimated";
constexpr std::string_view kWorst = "worst case over the ranges stated, a bound and no statistic";
constexpr std::string_view kCounts = "bound from the counts of both sides, no statistic";
constexpr std::string_view kReading =
    "read from one record; how it repeats is unknown until the move is recorded again";

constexpr auto kMethods = std::to_array<Method>({
    {"ready", "brake_margin_*",
     "stated holding force over the load, largest over travel and payload; as sure as the papers"},
    {"ready", "gravity_*", kWorst},
    {"ready", "growth_*",
     "alpha l dT with the coefficient stated or by handbook; as sure as that and as machine.toml"},
    {"survey", "*", kFit},
    {"limits", "allowable_skew_m",
     "smallest known limit over the yaw stiffness; its interval is that of the stiffness"},
    {"limits", "allowable_yaw_moment_n_m",
     "from ratings and the safety factor stated or assumed; as sure as the papers"},
    {"limits", "standing_skew_for_tenth_of_life_m", "life by ISO 14728-1 from the ratings; as sure as the papers"},
    {"limits", "push_*", "bound by energy with the other side dead or reversed, no statistic"},
    {"limits", "*", kWorst},
    {"nudge", "sign_*", "seen in the pushes: agrees in all, or is unknown"},
    {"nudge", "breakaway_*",
     "sliding friction of the motion fit; upper end at most the smallest push that moved the side"},
    {"nudge", "*", kFit},
    {"marks", "marks_a_minus_b_*",
     "mean of the searches; scatter with Student's t and the fit's doubt of the stress-free skew (GUM, first order)"},
    {"marks", "home_offset_*",
     "mean of the searches; scatter with Student's t and the fit's doubt of the stress-free skew (GUM, first order)"},
    {"marks", "repeatability_m", "standard deviation of the searches; as a tolerance interval in prove"},
    {"marks", "marks_drift_m_per_k", "straight line through searches over temperature; scatter with Student's t"},
    {"marks", "search_again_after_k", "what is allowed over the worse end of the drift; at most what was seen"},
    {"marks", "axis_zero_from_marks_m", kChosen},
    {"marks", "search_direction", kChosen},
    {"marks", "search_speed_m_per_s", kChosen},
    {"marks", "search_time_out_s", kWorst},
    {"marks", "drive_method", kChosen},
    {"marks", "start_skew_range_m", kChosen},
    {"marks", "take_out_*", "upper ends of the fit's intervals, a bound"},
    {"marks", "electrical_angle_*", "mean and scatter of the readings; largest error by the tolerance factor"},
    {"marks", "*", kWorst},
    {"square", "agreement_*", "chi-square of the measurements against their budgets"},
    {"square", "remains_*", "95 % half width of the combination, with what straight lines between places miss"},
    {"square", "*",
     "weighted mean of the measurements' budgets with shared instruments (GUM, first order), Student's t"},
    {"fit", "*", kFit},
    {"loops", "*position_gain_per_s", kChosen},
    {"loops", "certified_*",
     "proved over boxes: the fitted plant, and every plant within that part of the fit's joint doubt"},
    {"loops", "peak_sensitivity*",
     "lower: largest over places, payloads and frequencies looked at; upper: certified_sensitivity, where proved"},
    {"loops", "fight_per_skew_n_per_m", "from the fit's yaw stiffness: as sure, in proportion"},
    {"loops", "fit_doubt",
     "skew that the fit's unknowns may add together, slopes of the forecast by their covariance (95 %, first order)"},
    {"loops", "*", kChosen},
    {"trips", "worst_fault_peak_skew_m", "lower: found by search; upper: bound between the instants tried"},
    {"trips", "skew_trip_m", kChosen},
    {"trips", "following_error_trip_m", kChosen},
    {"trips", "speed_trip_m_per_s", kChosen},
    {"trips", "force_trip_*", kChosen},
    {"trips", "skew_trip_*", kChosen},
    {"trips", "cross_trip_s", kReading},
    {"trips", "*", kWorst},
    {"rehearse", "worst_one_sided_skew_m",
     "virtual gantry at both ends of each interval, changes added as roots of sums of squares"},
    {"rehearse", "*", "counted, exact"},
    {"causes", "least_mark_scatter_m",
     "a limit: chi-square (99.9 %) of the searches against each one's own doubt, at least five counts"},
    {"prove", "peak_skew_m", kCounts},
    {"prove", "rms_skew_m", kCounts},
    {"prove", "circular_deviation_m",
     "bound from the counts of the three scales; squareness and scale errors are not in it"},
    {"prove", "circular_hysteresis_m", "bound from the counts of the three scales"},
    {"prove", "radial_deviation_*", "bound from the counts of the three scales, about the commanded centre"},
    {"prove", "settle_window_m", kChosen},
    {"prove", "homing_repeatability_m",
     "two-sided normal tolerance interval, 95 % of searches at 95 % confidence (ISO 16269-6)"},
    {"prove", "rms_force_*",
     "scatter of the strokes of the record, Student's t (GUM, first order); unknown below four"},
    {"prove", "*", kReading},
});

bool matches(std::string_view pattern, std::string_view key) {
  if (pattern.starts_with('*') && pattern.size() > 1) return key.ends_with(pattern.substr(1));
  if (pattern.ends_with('*')) return key.starts_with(pattern.substr(0, pattern.size() - 1));
  return pattern == key;
}

}  // namespace

std::string number_method(std::string_view station, std::string_view key, const base::Value& value) {
  if (std::holds_alternative<std::monostate>(value.value))
    return "unknown: the next steps below say what would settle it";
  const auto found = std::find_if(kMethods.begin(), kMethods.end(),
                                  [&](const Method& m) { return m.station == station && matches(m.key, key); });
  return found != kMethods.end() ? std::string(found->how) : "";
}

}  // namespace evenbeam::workflow
