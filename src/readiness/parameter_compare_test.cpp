#include "readiness/parameter_compare.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "base/message_of_test.h"
#include "base/near_test.h"
#include "readiness/parameter_number.h"

using namespace evenbeam;
using namespace evenbeam::readiness;

namespace {

ParameterComparison compared(const std::string& a, const std::string& b, const std::vector<Intended>& intended = {}) {
  return compare_parameters(read_parameter_text(a, "a"), read_parameter_text(b, "b"), {.intended = intended});
}

const Parameter* find(const ParameterText& text, const std::string& name) {
  for (const Parameter& p : text.parameters)
    if (p.name == name) return &p;
  return nullptr;
}

std::string message_of(const std::string& text) {
  return base::test::message_of([&] { read_parameter_text(text, "drives/a.txt"); });
}

}  // namespace

TEST_CASE("one set in seven layouts is the same set") {
  const std::string plain = "Velocity gain = 0.35\nCurrent limit = 12.5 A\nCounts = 8192\nMode = 7\n";
  for (const std::string other :
       {"# exported\nMode: 7\nCounts: 8192\nCurrent limit: 12.5 A\n\nVelocity gain: 0.35   # tuned\n",
        "Name;Value;Unit\r\nCurrent limit;12,5;A\r\nVelocity gain;0,35;\r\nMode;7;\r\nCounts;8192;\r\n",
        "\xef\xbb\xbfVelocity gain\t0.35\nCurrent limit\t12500\tmA\nCounts\t0x2000\nMode\t7\n",
        "\"Velocity gain\",\"0.35\"\n\"Current limit\",\"12.5\",\"A\"\n\"Counts\",\"8192\"\n\"Mode\",\"7\"\n",
        "; remark\n[Axis 1]\nVELOCITY GAIN=3.5e-1\ncurrent limit=1.25E+1 A\ncounts=2000h\nmode=16#7\n",
        "Id;Name;Value;Unit\n1;Velocity gain;0,350;\n2;Current limit;12,50;A\n3;Counts;8.192;\n4;Mode;7;\n",
        "// by hand\nVelocity gain = .35\nCurrent limit = 12 500.0 mA\nCounts = 8,192\nMode = 2#111\n"}) {
    CAPTURE(other);
    const ParameterComparison c = compared(plain, other);
    CHECK(c.read_b == 4);
    CHECK(c.differences.empty());
    for (const Difference& d : c.differences) MESSAGE(d.name << ": " << d.a << " | " << d.b);
  }
}

TEST_CASE("nothing is equal that was not read on both sides") {
  const auto c = compared("Gain = 5\nLimit = 10 A\nUnit less = 3\nOnly A = 1\nText = fast\n",
                          "Gain = 5,001\nLimit = 10\nUnit less = 3\nText = Fast\nOnly B = 2\n");
  CHECK(c.equal == 2);  // "Unit less" and "Text"
  std::vector<std::string> names;
  for (const Difference& d : c.differences) names.push_back(d.name);
  std::sort(names.begin(), names.end());
  CHECK(names == std::vector<std::string>{"Gain", "Limit", "Only A", "Only B"});
  for (const Difference& d : c.differences)
    if (d.name == "Only A") CHECK(d.b == "not read");
  CHECK(read_parameter_text("Gain = 5,001\n", "b").doubtful.size() == 1);
}

TEST_CASE("numbers: what the last digit leaves open is equal as written, and told; another number is not") {
  CHECK(compared("Kp = 0.333\n", "Kp = 0.33333\n").equal_as_written.size() == 1);
  CHECK(compared("Kp = 0.333\n", "Kp = 0.334\n").differences.size() == 1);
  CHECK(compared("Kp = 0.333\n", "Kp = 0.3336\n").differences.size() == 1);
  CHECK(compared("Kp = 12\n", "Kp = 12.3\n").differences.size() == 1);
  CHECK(compared("T = 5 ms\n", "T = 0.005 s\n").differences.empty());
  CHECK(compared("T = 5 ms\n", "T = 5 us\n").differences.size() == 1);
  CHECK(compared("T = 5 ms\n", "T = 5 mA\n").differences.size() == 1);
  CHECK(compared("I = -3\n", "I = 3\n").differences.size() == 1);
  CHECK(compared("On = true\n", "On = 1\n").differences.size() == 1);  // perhaps the same; nobody has said so
}

TEST_CASE("decimal commas, thousands and hexadecimal") {
  CHECK(*read_number("1.234,5", DecimalSign::unknown).value == base::test::near(1234.5));
  CHECK(*read_number("1,234.5", DecimalSign::unknown).value == base::test::near(1234.5));
  CHECK(*read_number("12 345", DecimalSign::point).value == base::test::near(12345));
  CHECK(*read_number("1,234", DecimalSign::point).value == base::test::near(1234));
  CHECK(*read_number("1,234", DecimalSign::comma).value == base::test::near(1.234));
  CHECK(read_number("1,234", DecimalSign::unknown).doubtful);
  CHECK(*read_number("0xFFFF", DecimalSign::point).value == 65535);
  CHECK(*read_number("-1.5E-3", DecimalSign::point).value == base::test::near(-1.5e-3));
  CHECK_FALSE(read_number("0xZZ", DecimalSign::point).value);
  CHECK_FALSE(read_number("ABC", DecimalSign::point).value);
  CHECK_FALSE(read_number("nan", DecimalSign::point).value);
  CHECK_FALSE(read_number("", DecimalSign::point).value);
  CHECK(read_parameter_text("a;1,5\nb;1,234\n", "f").decimal_comma);
  CHECK(find(read_parameter_text("a;1,5\nb;1,234\n", "f"), "b")->number == base::test::near(1.234));
}

TEST_CASE("what gives no pair is told with its line, and what is no text is refused") {
  const auto text = read_parameter_text("Kp = 1\nthis line says nothing\nKi = 2\n", "f");
  CHECK(text.parameters.size() == 2);
  CHECK(text.unread == std::vector<std::string>{"line 2: 'this line says nothing'"});
  CHECK(message_of("").find("none with a name and a value") != std::string::npos);
  CHECK(message_of(std::string("K\0p\0", 4)).find("UTF-16") != std::string::npos);
  CHECK(message_of("Kp = 1\nkp = 2\n").find("drives/a.txt:2") != std::string::npos);
  CHECK(message_of("Kp = 1\nKp = 1\n") == "no error");
  // The same names under headings are told apart by them.
  const auto two = read_parameter_text("[Current]\nKp = 1\n[Velocity]\nKp = 2\n", "f");
  CHECK(find(two, "Velocity.Kp")->number == 2);
}

TEST_CASE("differences are ranked by what they would do to the skew") {
  const auto c = compared(
      "Serial number = 1\nVelocity filter = 100\nMotor polarity = 0\nTorque constant = 1.2\nVelocity gain = 5\n"
      "Encoder resolution = 8192\nFault reaction = 2\nP-0-4711 = 3\nHome offset = 4\n",
      "Serial number = 2\nVelocity filter = 200\nMotor polarity = 1\nTorque constant = 1.3\nVelocity gain = 6\n"
      "Encoder resolution = 4096\nFault reaction = 3\nP-0-4711 = 4\nHome offset = 9\n");
  std::vector<std::string> order;
  for (const Difference& d : c.differences) order.push_back(d.name);
  CHECK(order == std::vector<std::string>{"Motor polarity", "Encoder resolution", "Torque constant", "P-0-4711",
                                          "Fault reaction", "Velocity gain", "Velocity filter", "Home offset",
                                          "Serial number"});
  CHECK(skew_effect("Whatever").effect == SkewEffect::unknown);
  CHECK(skew_effect("VelLoop.Kp").effect == SkewEffect::gain);
  CHECK(skew_effect("Skipper").effect == SkewEffect::unknown);  // "ki" and "kp" only as words
  // What differs on purpose is kept and comes last; what is missing on one side cannot be meant.
  const auto meant = compared("Motor polarity = 0\nGain = 1\n", "Motor polarity = 1\nGain = 2\n",
                              {{"motor polarity", "mounted mirrored"}});
  CHECK(meant.differences.back().name == "Motor polarity");
  CHECK(meant.differences.back().intended == "mounted mirrored");
  CHECK(compared("Polarity = 0\nKp = 1\n", "Kp = 1\n", {{"Polarity", "meant"}}).differences[0].intended.empty());
}

TEST_CASE("what a parameter does: by statement, then by object number, then a guess from words, said to be one") {
  CHECK(skew_effect("0x607E").effect == SkewEffect::direction);
  CHECK(skew_effect("607Eh:00").effect == SkewEffect::direction);
  CHECK(skew_effect("16#6091:01 numerator").effect == SkewEffect::scale);
  CHECK(skew_effect("Drehrichtung 607Eh").effect == SkewEffect::direction);
  CHECK(skew_effect("0x607E").told_by.find("607Eh") != std::string::npos);
  CHECK(skew_effect("0x607E1").effect == SkewEffect::unknown);
  CHECK(skew_effect("a607Eh").effect == SkewEffect::unknown);
  CHECK(skew_effect("Motor polarity").told_by == "a guess from its name");
  const std::vector<StatedEffect> stated{{"drehrichtung", SkewEffect::direction}, {"0x607E", SkewEffect::none}};
  CHECK(skew_effect("Drehrichtung", stated).effect == SkewEffect::direction);
  CHECK(skew_effect("0x607e", stated).told_by == "your statement");
  CHECK(effect_words().size() == 8);
  for (const std::string& word : effect_words()) CHECK(effect_of_word(word));
}
