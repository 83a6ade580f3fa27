#include "base/json.h"

#include <doctest/doctest.h>

#include <bit>
#include <charconv>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

#include "base/input_error.h"

namespace evenbeam::base {

TEST_CASE("every double is printed so that it reads back to the same bits") {
  const unsigned seed = 20;
  INFO("seed ", seed);
  std::mt19937_64 random(seed);
  for (int i = 0; i < 20000; ++i) {
    const double value = std::bit_cast<double>(random());
    if (!std::isfinite(value)) continue;
    const std::string text = number_text(value);
    double back = 0;
    std::from_chars(text.data(), text.data() + text.size(), back);
    CHECK_MESSAGE(std::bit_cast<std::uint64_t>(back) == std::bit_cast<std::uint64_t>(value), text);
    CHECK(parse_json(to_text(Json(value)), "x").get<double>() == value);
  }
  CHECK(number_text(0.1) == "0.1");
  CHECK(number_text(std::nan("")) == "null");
  CHECK(number_text(-std::numeric_limits<double>::infinity()) == "null");
}

TEST_CASE("layout: plain things in one line, the rest indented, keys in the order given") {
  const Json json{{"z", 1.5}, {"a", {1, 2, 3}}, {"deep", {{"b", Json::array({Json{{"k", "v"}}})}}}};
  CHECK(to_text(json) ==
        "{\n  \"z\": 1.5,\n  \"a\": [1, 2, 3],\n  \"deep\": {\n    \"b\": [\n      {\"k\": \"v\"}\n"
        "    ]\n  }\n}");
  CHECK(to_line(json) == R"({"z": 1.5, "a": [1, 2, 3], "deep": {"b": [{"k": "v"}]}})");
  CHECK(parse_json(to_text(json), "x") == parse_json(to_line(json), "x"));
  CHECK(to_text(Json::object()) == "{}");
}

TEST_CASE("broken text is named with line and column; broken UTF-8 is replaced") {
  try {
    parse_json("{\n  \"a\": nul\n}", "r.json");
    FAIL("accepted");
  } catch (const InputError& error) {
    CHECK(error.troubles()[0].line == 2);
    CHECK(error.troubles()[0].file == "r.json");
  }
  CHECK_THROWS_AS(parse_json("", "r.json"), InputError);
  CHECK(to_text(Json(std::string("a\xff"))) == "\"a\xef\xbf\xbd\"");
}

}  // namespace evenbeam::base
