#include "report/well_formed.h"

#include <doctest/doctest.h>

using namespace evenbeam::report;

TEST_CASE("the checker passes what is right and names what is wrong") {
  CHECK(page_troubles("<!DOCTYPE html>\n<p id=\"a\" class=\"b\">x &amp; y<br/></p>").empty());
  for (const char* wrong :
       {"<p>x", "<p>x</b></p>", "x</p>", "<p a=b>x</p>", "<p a=\"1\" a=\"2\">x</p>", "<p>a & b</p>", "<p>a < b</p>",
        "<p id=\"a\"/><p id=\"a\"/>", "<a href=\"#gone\">x</a>", "<a href=\"https://x\">x</a>", "<img src=\"x\"/>",
        "<p onclick=\"x\">y</p>", "<script>1</script>", "<style>a{background:url(x)}</style>", "<p title=\"a", "<p",
        "<p>\x01</p>"}) {
    CAPTURE(std::string(wrong));
    CHECK(!page_troubles(wrong).empty());
  }
}
