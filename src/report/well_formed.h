#pragma once
// A small checker for the pages we write ourselves: every element closed in order (void elements with "/>"), every
// attribute quoted and named once, every '&' a known reference, ids unique, every in-page link and aria-labelledby
// pointing at an id that exists, nothing loaded from elsewhere. Stricter than HTML, so that a page that passes reads
// the same in every browser.
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::report {

// Troubles in words, each with its byte offset; empty where the page is well-formed.
std::vector<std::string> page_troubles(std::string_view html);

}  // namespace evenbeam::report
