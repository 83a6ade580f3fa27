#pragma once
// The report on paper: a browser that is installed prints the HTML file to PDF, with selectable text and an outline.
// No browser, or one that fails, is an honest no: the HTML is there and can be printed by hand.
#include <string>

namespace evenbeam::report {

struct PdfResult {
  bool written = false;
  std::string reason;  // where not written: why, and what to do
};

// Empty where no browser is installed.
std::string find_browser();

// `html_path` and `pdf_path` as the person names them. The PDF appears whole or not at all. Sixty pages
// took a browser 17 s of processor; a loaded laptop may need minutes.
PdfResult write_pdf(const std::string& html_path, const std::string& pdf_path, const std::string& browser,
                    double timeout_s = 180);

}  // namespace evenbeam::report
