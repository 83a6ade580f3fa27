#include "report/pdf.h"

#include <doctest/doctest.h>

#include "base/files.h"
#include "base/process.h"

using namespace evenbeam;
using namespace evenbeam::report;

namespace {

struct Place {
  base::TemporaryFolder folder;
  std::string html = base::join_path(folder.path(), "a report & <more>.html");
  std::string pdf = base::join_path(folder.path(), "report.pdf");
  Place() { base::write_file_atomically(html, "<!DOCTYPE html><html><body><h1>One</h1><p>two</p></body></html>"); }

  // A stand-in for a browser: a script that does what the test wants with the arguments it is given.
  std::string browser(const std::string& script) const {
    const std::string path = base::join_path(folder.path(), "browser");
    base::write_file_atomically(path, "#!/bin/sh\n" + script);
    base::run_process("chmod", {"755", path}, 30);
    return path;
  }
};

constexpr const char* take_target =
    "for a in \"$@\"; do case $a in --print-to-pdf=*) t=${a#*=};; file:*) u=$a;; esac; done\n";

}  // namespace

TEST_CASE("the browser gets the page's address and its output arrives whole") {
  const Place place;
  const auto result = write_pdf(place.html, place.pdf,
                                place.browser(take_target + std::string("printf '%%PDF-1.7 %s' \"$u\" > \"$t\"")));
  CHECK(result.written);
  const std::string content = base::read_file(place.pdf);
  CHECK(content.starts_with("%PDF-1.7 file:///"));
  CHECK(content.ends_with("a%20report%20%26%20%3Cmore%3E.html"));
}

TEST_CASE("every way it can fail is said, and the HTML is named as the way out") {
  const Place place;
  struct Case {
    std::string browser, words;
    double timeout_s;
  };
  const std::string missing = base::join_path(place.folder.path(), "no-browser");
  for (const auto& [script, words, timeout_s] :
       {Case{"echo 'cannot open display'; exit 3", "code 3 and wrote nothing (cannot open display)", 30},
        Case{"sleep 1000", "not done after", 0.2},
        Case{take_target + std::string("echo hello > \"$t\""), "no PDF", 30}}) {
    const auto result = write_pdf(place.html, place.pdf, place.browser(script), timeout_s);
    CAPTURE(script);
    CAPTURE(result.reason);
    CHECK(!result.written);
    CHECK(result.reason.find(words) != std::string::npos);
    CHECK(result.reason.find("HTML report is complete") != std::string::npos);
    CHECK(!base::file_exists(place.pdf));
  }
  CHECK(write_pdf(place.html, place.pdf, "").reason.find("no browser") != std::string::npos);
  CHECK(write_pdf(place.html, place.pdf, missing).reason.find("did not start") != std::string::npos);
  CHECK(write_pdf(place.html + "x", place.pdf, "sh").reason.find("there is no") != std::string::npos);
}
