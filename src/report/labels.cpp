#include "report/labels.h"

#include <algorithm>
#include <limits>
#include <numeric>

namespace evenbeam::report {
namespace {

// Neighbours that touch. `offset_sum`: sum over members of (wish - the member's centre within the cluster).
struct Cluster {
  double offset_sum = 0, height = 0;
  std::vector<size_t> members;
};

double start_of(const Cluster& cluster, double top, double bottom) {
  const double wanted = cluster.offset_sum / static_cast<double>(cluster.members.size());
  return std::max(top, std::min(wanted, bottom - cluster.height));
}

void absorb(Cluster& into, const Cluster& next) {
  into.offset_sum += next.offset_sum - into.height * static_cast<double>(next.members.size());
  into.height += next.height;
  into.members.insert(into.members.end(), next.members.begin(), next.members.end());
}

size_t points_inside(const Box& box, const std::vector<Point>& points) {
  return static_cast<size_t>(std::count_if(points.begin(), points.end(), [&](Point p) {
    return p.x >= box.x0 && p.x <= box.x1 && p.y >= box.y0 && p.y <= box.y1;
  }));
}

}  // namespace

std::vector<double> spread(const std::vector<ColumnLabel>& labels, double top, double bottom) {
  std::vector<size_t> order(labels.size());
  std::iota(order.begin(), order.end(), size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](size_t i, size_t j) { return labels[i].wish < labels[j].wish; });
  std::vector<Cluster> clusters;
  for (const size_t i : order) {
    clusters.push_back({labels[i].wish - labels[i].height / 2, labels[i].height, {i}});
    while (clusters.size() > 1) {
      Cluster& before = clusters[clusters.size() - 2];
      if (start_of(before, top, bottom) + before.height <= start_of(clusters.back(), top, bottom)) break;
      absorb(before, clusters.back());
      clusters.pop_back();
    }
  }
  std::vector<double> centres(labels.size(), 0.0);
  for (const Cluster& cluster : clusters) {
    double at = start_of(cluster, top, bottom);
    for (const size_t i : cluster.members) {
      centres[i] = at + labels[i].height / 2;
      at += labels[i].height;
    }
  }
  return centres;
}

int best_place(const std::vector<Box>& candidates, const std::vector<Box>& taken,
               const std::vector<Point>& ink_points) {
  int best = -1;
  size_t least = std::numeric_limits<size_t>::max();
  for (size_t i = 0; i < candidates.size(); ++i) {
    const bool free =
        std::none_of(taken.begin(), taken.end(), [&](const Box& box) { return overlap(box, candidates[i]); });
    const size_t covered = points_inside(candidates[i], ink_points);
    if (free && covered < least) best = static_cast<int>(i), least = covered;
  }
  return best;
}

}  // namespace evenbeam::report
