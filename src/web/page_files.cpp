#include "web/page_files.h"

#include "base/embedded.h"

extern "C" const evenbeam::base::EmbeddedEntry evenbeam_page_files[];

namespace evenbeam::web {

const std::vector<PageFile>& page_files() {
  static const std::vector<PageFile> files = [] {
    std::vector<PageFile> list;
    for (const auto& [path, bytes] : base::embedded_files(evenbeam_page_files)) {
      const std::string_view type = path.ends_with(".html")  ? "text/html; charset=utf-8"
                                    : path.ends_with(".css") ? "text/css; charset=utf-8"
                                                             : "text/javascript; charset=utf-8";
      list.push_back({path, bytes, type});
    }
    return list;
  }();
  return files;
}

}  // namespace evenbeam::web
