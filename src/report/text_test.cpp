#include "report/text.h"

#include <doctest/doctest.h>

#include <limits>
#include <random>

using namespace evenbeam::report;

TEST_CASE("escape leaves no way out of text or attribute") {
  CHECK(escape("a<b>&\"'") == "a&lt;b&gt;&amp;&quot;&#39;");
  CHECK(escape("µm ≤ 3 — ok") == "µm ≤ 3 — ok");
  CHECK(escape("a\xff"
               "b\x01"
               "c") ==
        "a\xEF\xBF\xBD"
        "b\xEF\xBF\xBD"
        "c");
  CHECK(escape("cut \xE2\x82") == "cut \xEF\xBF\xBD\xEF\xBF\xBD");  // a sequence that ends too early
  CHECK(escape("\xC0\xBC") == "\xEF\xBF\xBD\xEF\xBF\xBD");          // overlong '<'
  CHECK(escape("x\xE2\x80\xAEvsc.y") == "x\xEF\xBF\xBDvsc.y");      // right-to-left override
  std::mt19937 random(7);
  for (int round = 0; round < 2000; ++round) {
    std::string bytes;
    for (int i = 0; i < 40; ++i) bytes += static_cast<char>(random() % 256);
    const std::string safe = escape(bytes);
    for (const char forbidden : {'<', '>', '"', '\'', '\0', '\x1b'}) {
      INFO("seed 7, round " << round);
      CHECK(safe.find(forbidden) == std::string::npos);
    }
    for (size_t at = 0; at < safe.size(); at += character_at(safe, at).size())  // valid UTF-8 throughout
      CHECK((static_cast<unsigned char>(safe[at]) & 0xC0) != 0x80);
  }
}

TEST_CASE("numbers for people") {
  CHECK(significant(0.0123456, 3) == "0.0123");
  CHECK(significant(9.9996, 4) == "10.00");
  CHECK(significant(123456, 3) == "123000");
  CHECK(significant(1.5e-7, 2) == "1.5 × 10⁻⁷");
  CHECK(significant(-3.25e9, 3) == "-3.25 × 10⁹");
  CHECK(significant(std::numeric_limits<double>::quiet_NaN(), 3) == "unknown");
  CHECK(trimmed(-600, 4) == "-600");
  CHECK(trimmed(38.5, 4) == "38.5");
  CHECK(trimmed(2e-9, 4) == "2 × 10⁻⁹");
  CHECK(coordinate(-0.04) == "0");
  CHECK(coordinate(-0.06) == "-0.1");
  CHECK(coordinate(12.0) == "12");
  CHECK(coordinate(12.34) == "12.3");
}

TEST_CASE("wrapped lines are never wider than asked and lose no word") {
  std::mt19937 random(11);
  for (int round = 0; round < 500; ++round) {
    std::string text;
    const int words = 1 + static_cast<int>(random() % 12);
    for (int w = 0; w < words; ++w)
      text += (w ? " " : "") + std::string(1 + random() % 14, static_cast<char>('a' + random() % 26));
    const double width = 30 + static_cast<double>(random() % 120);
    std::string joined, plain;
    for (const std::string& line : wrap(text, width, 11)) {
      INFO("seed 11, round " << round << ": " << text);
      CHECK(text_width(line, 11) <= width);
      joined += line;
    }
    for (const char c : text) plain += c == ' ' ? "" : std::string(1, c);
    std::erase(joined, ' ');
    CHECK(joined == plain);
  }
  CHECK(wrap("", 50, 11).empty());
  // A word that alone is too wide parts at its joints.
  CHECK(wrap("07-testmove-carriage-left.csv", text_width("07-testmove-carri", 11), 11) ==
        std::vector<std::string>{"07-testmove-", "carriage-left.csv"});
}
