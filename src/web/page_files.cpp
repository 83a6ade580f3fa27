#include "web/page_files.h"

extern "C" {
struct EvenbeamEmbedded {
  const char* path;
  const char* begin;
  const char* end;
};
extern const EvenbeamEmbedded evenbeam_page_files[];
}

namespace evenbeam::web {

const std::vector<PageFile>& page_files() {
  static const std::vector<PageFile> files = [] {
    std::vector<PageFile> list;
    for (const EvenbeamEmbedded* file = evenbeam_page_files; file->path != nullptr; ++file) {
      const std::string_view path = file->path;
      const std::string_view type = path.ends_with(".html")  ? "text/html; charset=utf-8"
                                    : path.ends_with(".css") ? "text/css; charset=utf-8"
                                                             : "text/javascript; charset=utf-8";
      list.push_back({path, {file->begin, static_cast<std::size_t>(file->end - file->begin)}, type});
    }
    return list;
  }();
  return files;
}

}  // namespace evenbeam::web
