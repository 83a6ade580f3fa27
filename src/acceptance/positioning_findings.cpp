#include "acceptance/positioning_findings.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "acceptance/compensation.h"
#include "math/tolerance.h"

namespace evenbeam::acceptance {

namespace {

using base::Finding;
using base::Row;
using base::Verdict;

double um(double x_m) { return 1e6 * x_m; }

// One table with everything computed of it.
struct Judged {
  const PositioningTable* table = nullptr;
  Positioning result;
  std::vector<NamedParameter> parameters;
  ParameterUncertainty uncertainty;
  std::optional<Positioning> corrected;  // three runs or more in each direction measured
};

std::optional<Positioning> after_correction(const std::vector<TargetRuns>& runs) {
  for (const TargetRuns& r : runs)
    for (const auto* x : {&r.up_m, &r.down_m})
      if (!x->empty() && x->size() < 3) return {};
  return positioning(corrected_by_the_others(runs));
}

Judged judge(const PositioningTable& table) {
  Judged out{.table = &table, .result = positioning(table.runs)};
  out.parameters = named_parameters(out.result);
  out.uncertainty = positioning_uncertainty(table.runs, table.plan.set_up);
  out.corrected = after_correction(table.runs);
  return out;
}

std::size_t place_of(const Judged& judged, const char* symbol) {
  return std::size_t(std::find_if(judged.parameters.begin(), judged.parameters.end(),
                                  [&](const NamedParameter& p) { return p.symbol == symbol; }) -
                     judged.parameters.begin());
}

std::string name_of(const Judged& judged) { return to_text(judged.table->plan.of); }

std::string id_of(const Judged& judged, const char* what) {
  std::string id = fmt::format("{}_{}", what, name_of(judged));
  for (char& c : id) c = c == ' ' ? '_' : char(std::tolower(static_cast<unsigned char>(c)));
  return id;
}

// Decision against a stated limit: kept or broken only beyond the uncertainty [ISO 14253-1, simple acceptance zones].
Verdict decided(double value, double expanded, double limit) {
  if (!std::isfinite(expanded)) return Verdict::attention;
  return value + expanded <= limit ? Verdict::pass : value - expanded > limit ? Verdict::stop : Verdict::attention;
}

std::string plus_minus(double expanded_m) {
  return std::isfinite(expanded_m) ? fmt::format(" ± {:.2f} um (k = 2)", um(expanded_m))
                                   : std::string(", uncertainty unknown: the set-up is not stated");
}

void hold_against(const Judged& judged, std::size_t place, double limit_m, Finding& f) {
  const NamedParameter& p = judged.parameters[place];
  const double expanded_m = judged.uncertainty.expanded_m[place];
  const Verdict verdict = decided(p.value_m, expanded_m, limit_m);
  f.limit = limit_m;
  f.verdict = base::worse(f.verdict, verdict);
  f.text += verdict == Verdict::pass ? fmt::format(" {} keeps {:.1f} um.", p.symbol, um(limit_m))
            : verdict == Verdict::stop
                ? fmt::format(" {} breaks {:.1f} um.", p.symbol, um(limit_m))
                : fmt::format(" Whether {} keeps {:.1f} um cannot be decided.", p.symbol, um(limit_m));
}

Finding finding_of(const Judged& judged) {
  const PositioningPlan& plan = judged.table->plan;
  const std::size_t a = place_of(judged, "A"), r = place_of(judged, "R"), b = place_of(judged, "B");
  const auto& values = judged.parameters;
  const auto& expanded = judged.uncertainty.expanded_m;
  Finding f{.id = id_of(judged, "positioning"), .verdict = Verdict::pass, .unit = "m"};
  f.source = "ISO 230-2:2014 (definitions from memory)";
  if (plan.limit_accuracy_m || plan.limit_repeatability_m)
    f.source += "; limits: " + (plan.limit_source.empty() ? std::string("positioning.toml") : plan.limit_source);
  f.recording = plan.file;
  if (std::isfinite(values[a].value_m)) {
    f.text = fmt::format("{}: accuracy A {:.2f} um{}; repeatability R {:.2f} um{}; reversal B {:.2f} um.",
                         name_of(judged), um(values[a].value_m), plus_minus(expanded[a]), um(values[r].value_m),
                         plus_minus(expanded[r]), um(values[b].value_m));
    f.value = values[a].value_m;
    if (std::isfinite(expanded[a])) {
      f.lower = std::max(0.0, *f.value - expanded[a]);
      f.upper = *f.value + expanded[a];
    }
    if (plan.limit_accuracy_m) hold_against(judged, a, *plan.limit_accuracy_m, f);
    if (plan.limit_repeatability_m) hold_against(judged, r, *plan.limit_repeatability_m, f);
  } else {
    f.verdict = Verdict::attention;
    f.text = fmt::format("{}: measured in one direction only; A, R, E and B of both directions are unknown.",
                         name_of(judged));
    f.next = "Measure both directions.";
  }
  if (!judged.result.short_of_plan.empty()) {
    f.verdict = base::worse(f.verdict, Verdict::attention);
    f.text += fmt::format(" Short of the standard's plan: {}.", fmt::join(judged.result.short_of_plan, "; "));
    f.next += std::string(f.next.empty() ? "" : " ") + "Repeat with five runs each way and the targets named.";
  }
  if (!judged.uncertainty.not_stated.empty() && !judged.uncertainty.counted.empty())
    f.text += fmt::format(" Not counted, since not stated: {}.", fmt::join(judged.uncertainty.not_stated, ", "));
  return f;
}

base::Figure figure_of(const Judged& judged) {
  base::Line up{.role = base::Role::measured, .label = "rising, mean ± 2 s"},
      down{.role = base::Role::other, .label = "falling, mean ± 2 s"};
  const auto add = [](base::Line& line, double x, double mean, double s) {
    line.x.push_back(x);
    line.y.push_back(mean);
    line.lower.push_back(mean - 2 * s);
    line.upper.push_back(mean + 2 * s);
  };
  for (const TargetStatistics& t : judged.result.targets) {
    add(up, t.target_m, t.mean_up_m, t.deviation_up_m);
    add(down, t.target_m, t.mean_down_m, t.deviation_down_m);
  }
  base::Panel panel{.x = {"target", "m"}, .y = {"deviation, " + name_of(judged), "m"}};
  for (base::Line* line : {&up, &down})
    if (std::any_of(line->y.begin(), line->y.end(), [](double y) { return std::isfinite(y); }))
      panel.lines.push_back(std::move(*line));
  return {.id = id_of(judged, "positioning"),
          .title = "Positioning deviation, " + name_of(judged),
          .caption = "Mean of the runs at each target with twice their standard deviation, from " +
                     judged.table->plan.file + ".",
          .panels = {panel}};
}

void put_rows(const Judged& judged, std::vector<Row>& parameters, std::vector<Row>& corrections) {
  for (std::size_t k = 0; k < judged.parameters.size(); ++k) {
    const NamedParameter& p = judged.parameters[k];
    if (!std::isfinite(p.value_m)) continue;
    Row row{{"of", name_of(judged)}, {"symbol", p.symbol}, {"name", p.name}, {"value_m", p.value_m}};
    const double expanded_m = judged.uncertainty.expanded_m[k];
    row.push_back({"expanded_m", std::isfinite(expanded_m) ? base::Cell{expanded_m} : base::Cell{"unknown"}});
    if (judged.corrected) row.push_back({"after_compensation_m", named_parameters(*judged.corrected)[k].value_m});
    parameters.push_back(std::move(row));
  }
  for (const CompensationPoint& point : compensation(judged.result)) {
    Row row{{"of", name_of(judged)}, {"target_m", point.target_m}};
    if (std::isfinite(point.rising_m)) row.push_back({"add_rising_m", point.rising_m});
    if (std::isfinite(point.falling_m)) row.push_back({"add_falling_m", point.falling_m});
    corrections.push_back(std::move(row));
  }
}

const PositioningTable* table_of(const std::vector<PositioningTable>& tables, Measured of) {
  for (const PositioningTable& table : tables)
    if (table.plan.of == of) return &table;
  return nullptr;
}

bool same_stops(const std::vector<TargetRuns>& a, const std::vector<TargetRuns>& b) {
  return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](const auto& p, const auto& q) {
           return std::abs(p.target_m - q.target_m) < 1e-6 && p.up_m.size() == q.up_m.size() &&
                  p.down_m.size() == q.down_m.size();
         });
}

template <typename Of>
std::vector<TargetRuns> combined(const std::vector<TargetRuns>& a, const std::vector<TargetRuns>& b, Of of) {
  std::vector<TargetRuns> out = a;
  for (std::size_t i = 0; i < a.size(); ++i) {
    for (std::size_t j = 0; j < a[i].up_m.size(); ++j) out[i].up_m[j] = of(a[i].up_m[j], b[i].up_m[j]);
    for (std::size_t j = 0; j < a[i].down_m.size(); ++j) out[i].down_m[j] = of(a[i].down_m[j], b[i].down_m[j]);
  }
  return out;
}

}  // namespace

std::optional<std::vector<PositioningTable>> mean_and_skew(const std::vector<PositioningTable>& tables) {
  const PositioningTable* a = table_of(tables, Measured::side_a);
  const PositioningTable* b = table_of(tables, Measured::side_b);
  if (a == nullptr || b == nullptr || !a->plan.with_other_side || !b->plan.with_other_side) return {};
  if (!same_stops(a->runs, b->runs)) return {};
  PositioningPlan plan{.file = a->plan.file + " and " + b->plan.file};  // the set-ups of two devices are not combined
  PositioningTable mean{plan, combined(a->runs, b->runs, [](double p, double q) { return (p + q) / 2; })};
  PositioningTable skew{plan, combined(a->runs, b->runs, [](double p, double q) { return p - q; })};
  mean.plan.of = Measured::mean;
  skew.plan.of = Measured::skew;
  return std::vector<PositioningTable>{mean, skew};
}

void add_positioning(const std::vector<PositioningTable>& tables, std::optional<double> span_m,
                     base::StationOutcome& out) {
  if (tables.empty()) return;
  std::vector<PositioningTable> all = tables;
  if (const auto both = mean_and_skew(tables)) all.insert(all.end(), both->begin(), both->end());
  std::vector<Row> parameters, corrections;
  for (const PositioningTable& table : all) {
    const Judged judged = judge(table);
    Finding finding = finding_of(judged);
    if (table.plan.of == Measured::skew && span_m && finding.value)
      finding.text += fmt::format(" Over the span that is {:.2f} urad of yaw.", um(*finding.value) / *span_m);
    out.result.findings.push_back(std::move(finding));
    put_rows(judged, parameters, corrections);
    out.figures.push_back(figure_of(judged));
  }
  out.result.values.push_back({"positioning", {.value = parameters, .unit = ""}});
  out.result.values.push_back({"compensation", {.value = corrections, .unit = ""}});
  out.result.verdict = base::overall(out.result.findings);
}

void add_homing_repeatability(const std::vector<double>& b_minus_a_m, base::StationOutcome& out) {
  constexpr double content = 0.95, confidence = 0.95;
  const int n = int(b_minus_a_m.size());
  base::Value half_width{.unit = "m"};
  if (n >= 2) {
    double mean = 0, square = 0;
    for (const double x : b_minus_a_m) mean += x / n;
    for (const double x : b_minus_a_m) square += (x - mean) * (x - mean);
    const double s = std::sqrt(square / (n - 1));
    const double k = math::two_sided_tolerance_factor(n, content, confidence);
    half_width.value = k * s;
    Finding f{.id = "homing_repeatability", .verdict = Verdict::pass, .value = k * s, .unit = "m"};
    f.text = fmt::format(
        "Over {} searches B's mark against A's has standard deviation {:.2f} um. If searches scatter normally, 95 % "
        "of all searches lie within ±{:.2f} um of the mean at 95 % confidence (factor {:.2f}).",
        n, um(s), um(k * s), k);
    f.source = "two-sided tolerance interval, ISO 16269-6 (equation in math/tolerance.h)";
    const int enough = math::extremes_sample_size(content, confidence);
    f.next = n < 10 ? fmt::format(
                          "Ten searches bring the factor to {:.2f}; {} searches need no assumption on the "
                          "distribution.",
                          math::two_sided_tolerance_factor(10, content, confidence), enough)
                    : fmt::format("{} searches need no assumption on the distribution.", enough);
    out.result.findings.push_back(std::move(f));
  }
  out.result.values.push_back({"homing_repeatability_m", half_width});
  out.result.verdict = base::overall(out.result.findings);
}

}  // namespace evenbeam::acceptance
