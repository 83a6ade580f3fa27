#include "report/pdf.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "base/files.h"
#include "base/input_error.h"
#include "base/process.h"

namespace evenbeam::report {
namespace {

constexpr std::string_view by_hand = "The HTML report is complete; open it in any browser and print it from there";

// "file:///a%20b.html": everything but plain characters as its bytes.
std::string file_address(const std::string& path) {
  std::string out = "file://";
  for (const char c : path) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '/' ||
                       c == '.' || c == '-' || c == '_';
    out += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

std::string last_line(std::string text) {
  while (!text.empty() && text.back() == '\n') text.pop_back();
  const size_t start = text.rfind('\n');
  return start == text.npos ? text : text.substr(start + 1);
}

// A fresh profile, so that no running browser and no person's settings come into it; its own sandbox stays off
// because it refuses to start for the administrator. The page loads nothing and runs no script (report.h).
std::vector<std::string> arguments_for(const std::string& address, const std::string& pdf,
                                       const std::string& profile) {
  return {"--headless",
          "--no-sandbox",
          "--disable-gpu",
          "--disable-extensions",
          "--disable-background-networking",
          "--no-first-run",
          "--no-pdf-header-footer",
          "--generate-pdf-document-outline",
          "--user-data-dir=" + profile,
          "--print-to-pdf=" + pdf,
          address};
}

}  // namespace

std::string find_browser() {
  return base::find_program(
      {"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge"});
}

PdfResult write_pdf(const std::string& html_path, const std::string& pdf_path, const std::string& browser,
                    double timeout_s) {
  const auto no = [](const std::string& why) {
    return PdfResult{false, fmt::format("No PDF: {}. {}.", why, by_hand)};
  };
  if (browser.empty()) return no("no browser that prints to PDF was found (Chromium, for one)");
  if (!base::file_exists(html_path)) return no("there is no " + html_path);
  try {
    const base::TemporaryFolder folder;
    const std::string pdf = base::join_path(folder.path(), "report.pdf");
    const std::string address = file_address(std::filesystem::absolute(html_path).string());
    const base::ProcessResult run = base::run_process(
        browser, arguments_for(address, pdf, base::join_path(folder.path(), "profile")), timeout_s, folder.path());
    if (!run.started) return no(fmt::format("{} did not start ({})", browser, run.error));
    if (run.timed_out) return no(fmt::format("{} was not done after {:.0f} s", browser, timeout_s));
    if (!base::file_exists(pdf))
      return no(
          fmt::format("{} ended with code {} and wrote nothing ({})", browser, run.exit_code, last_line(run.output)));
    const std::string content = base::read_file(pdf);
    if (!content.starts_with("%PDF-")) return no(browser + " wrote something that is no PDF");
    base::write_file_atomically(pdf_path, content);
  } catch (const base::InputError& error) {
    return no(error.what());
  }
  return {true, ""};
}

}  // namespace evenbeam::report
