#include "workflow/kept.h"

#include <algorithm>
#include <utility>

namespace evenbeam::workflow {
namespace {

const recording::Recording* named(const std::vector<recording::Recording>& all, const std::string& file) {
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const recording::Recording& r) { return r.name == file; });
  return found == all.end() ? nullptr : &*found;
}

}  // namespace

void share_captures(Kept& kept, std::shared_ptr<const std::vector<recording::Recording>> of_evaluation) {
  std::erase_if(kept.imports, [&](const auto& one) { return named(*of_evaluation, one.first) == nullptr; });
  for (auto& [file, import] : kept.imports) {
    import.result.recording = {};
    import.lent = true;
  }
  kept.lent = std::move(of_evaluation);
}

std::optional<recording::ImportResult> import_of(const Kept& kept, const std::string& file, const KeptImport& known) {
  if (!known.lent) return known.result;
  const recording::Recording* lent = kept.lent ? named(*kept.lent, file) : nullptr;
  if (lent == nullptr) return {};
  return recording::ImportResult{.recording = *lent, .plan = known.result.plan};
}

}  // namespace evenbeam::workflow
