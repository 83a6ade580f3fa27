#include <algorithm>
#include <cmath>
#include <queue>

#include "protection/look.h"

namespace evenbeam::protection {
namespace {

constexpr double kSteeper = 2;      // than the slopes seen
constexpr double kSlack = 0.003;    // of the worst: no more is looked for
constexpr double kFinest = 0.0025;  // of the move: stretches shorter than that are left to the narrowing

// Between two looks that neighbour: the most that may lie there if the peak changes no faster than twice the slopes
// seen around it (or a tenth of what is usual on steep stretches of the other lines). Taken, not proven.
struct Stretch {
  double most_m = 0, slope = 0;
  size_t line = 0;
  Look from, to;
  bool operator<(const Stretch& other) const { return most_m < other.most_m; }
};
double slope_between(const Look& a, const Look& b) {
  return b.at_s > a.at_s ? std::abs(b.peak_skew_m - a.peak_skew_m) / (b.at_s - a.at_s) : 0;
}
Stretch stretch(size_t line, const Look& from, const Look& to, double slope, double usual) {
  const double most = kSteeper * std::max(slope, 0.1 * usual) * (to.at_s - from.at_s) / 2;
  return {(from.peak_skew_m + to.peak_skew_m) / 2 + most, slope, line, from, to};
}

// Median of the lines' steepest slopes.
double usual_slope(const std::vector<LookLine>& lines) {
  std::vector<double> steepest;
  for (const LookLine& line : lines) {
    double most = 0;
    for (size_t i = 0; i + 1 < line.looks.size(); ++i)
      most = std::max(most, slope_between(line.looks[i], line.looks[i + 1]));
    steepest.push_back(most);
  }
  std::nth_element(steepest.begin(), steepest.begin() + static_cast<long>(steepest.size() / 2), steepest.end());
  return steepest[steepest.size() / 2];
}

std::priority_queue<Stretch> stretches_of(const std::vector<LookLine>& lines, double usual) {
  std::priority_queue<Stretch> open;
  for (size_t l = 0; l < lines.size(); ++l) {
    const std::vector<Look>& looks = lines[l].looks;
    std::vector<double> slopes;
    for (size_t i = 0; i + 1 < looks.size(); ++i) slopes.push_back(slope_between(looks[i], looks[i + 1]));
    for (size_t i = 0; i < slopes.size(); ++i) {
      const double around =
          std::max({slopes[i == 0 ? 0 : i - 1], slopes[i], slopes[std::min(i + 1, slopes.size() - 1)]});
      open.push(stretch(l, looks[i], looks[i + 1], around, usual));
    }
  }
  return open;
}

// Looks where there is most room for a larger peak.
}  // namespace

void look_between(Worst& worst, int most) {
  const double usual = usual_slope(worst.lines);
  std::priority_queue<Stretch> open = stretches_of(worst.lines, usual);
  for (int more = 0; more < most && !open.empty() && open.top().most_m > (1 + kSlack) * worst.peak_skew_m;) {
    const Stretch s = open.top();
    open.pop();
    LookLine& line = worst.lines[s.line];
    if (s.to.at_s - s.from.at_s < kFinest * line.place->move.duration_s) continue;
    Look middle{.at_s = (s.from.at_s + s.to.at_s) / 2};
    line.scenario.fault_s = middle.at_s;
    middle.peak_skew_m = look(worst, *line.place, line.scenario);
    ++more;
    const auto after = [](const Look& a, const Look& b) { return a.at_s < b.at_s; };
    line.looks.insert(std::upper_bound(line.looks.begin(), line.looks.end(), middle, after), middle);
    const double slope = std::max({slope_between(s.from, middle), slope_between(middle, s.to), s.slope / 2});
    open.push(stretch(s.line, s.from, middle, slope, usual));
    open.push(stretch(s.line, middle, s.to, slope, usual));
  }
}

}  // namespace evenbeam::protection
