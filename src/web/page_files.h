#pragma once
// The page as it lies in the program (src/web/page, embedded by cmake/embed.cmake). Plain files, nothing is built.
#include <string_view>
#include <vector>

namespace evenbeam::web {

struct PageFile {
  std::string_view path;  // "index.html"
  std::string_view bytes;
  std::string_view type;  // media type
};

const std::vector<PageFile>& page_files();

}  // namespace evenbeam::web
